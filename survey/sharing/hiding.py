"""Nothing that could open a page goes into a log line or an error."""

from __future__ import annotations

import re

from survey.sharing.addresses import PAGE_FOLDER

# Anything after the folder of the pages, and anything long enough to be a token or most of one.
_SECRET = re.compile(rf"(?<=/{PAGE_FOLDER}/)[^\s\"'?#]+|[A-Za-z0-9_%-]{{30,}}")
HIDDEN = "[link]"


def hidden(text: str) -> str:
    """Return text with everything in it that could be a token hidden."""
    return _SECRET.sub(HIDDEN, text)
