"""The desk: a page on this machine on which words are proofed as they are typed.

`main` opens it. The page needs two small libraries that come with the extra "desk"; nothing
else of chartc imports this package.
"""

from __future__ import annotations

import sys

__all__ = ["main"]

MISSING = (
    "the desk needs two small additions; put them in with\n"
    "    {python} -m pip install \"chartc[desk]\"\n"
    "and start it again"
)


def main(path: str | None = None, *, port: int = 0, open_browser: bool = True) -> int:
    """Open the desk on a pattern, or on a folder of them; it runs until Ctrl-C.

    path    a file or a folder; None for the folder one is in
    port    the port on this machine, 0 for any free one
    open_browser   open the page in the browser as well as printing its address

    Returns 0, or 2 with a message on standard error when it cannot be opened.
    """
    from importlib.util import find_spec

    if find_spec("starlette") is None or find_spec("uvicorn") is None:
        print(f"chartc: {MISSING.format(python=sys.executable)}", file=sys.stderr)
        return 2
    from chartc.desk.serve import CannotOpen, serve

    try:
        return serve(path, port=port, open_browser=open_browser)
    except CannotOpen as reason:
        print(f"chartc: {reason}", file=sys.stderr)
        return 2
