"""chartc: the compiler and proof-reader for written knitting."""
