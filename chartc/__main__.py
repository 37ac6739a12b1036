"""`python -m chartc`: the command line."""

import sys

from chartc.cli import main

sys.exit(main())
