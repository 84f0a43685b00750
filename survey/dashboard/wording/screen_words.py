"""What stands on more than one page of the screens: the menu, buttons, heads, errors."""

from __future__ import annotations

# The menu
NAME = "survey"
MENU = {
    "start.py": "Start",
    "understood.py": "Headers",
    "overview.py": "Overview",
    "ranking.py": "Ranking",
    "readings.py": "Charts",
    "unit.py": "Unit",
    "plan.py": "Plant",
    "rounds.py": "Rounds",
    "next_round.py": "Next round",
    "owner_link.py": "Owner's link",
}
"""Page -> its name, short enough that a phone shows the whole menu at once."""
PAGE_TITLE = "{page} · survey"

# No round is open, and the round that was judged last
NO_ROUND = "No round is judged yet. Give a file and judge it, or try the sample, on the first page."
TO_THE_FIRST_PAGE = "Go to the first page"
OPEN_LAST = "Open the last round"
LAST_UNREADABLE = "The last round could not be read. Give its file again."
LAST_ROUND = "{name}, judged {when}"
UNNAMED_ROUND = "a round"
READING_HEADERS = "Reading the headers …"
JUDGING = "Judging the round …"

# What the command line is told to type -> where the same is on the screens
ON_THE_SCREENS = {
    "(set it with --spare; the site knows)":
        "(set it above, under “Heat to spare on the coldest day”; the site knows)",
    "(survey report FINDINGS --out report.html)":
        "(the button “Report, web page” on the Ranking page)",
    "(settable with a map)": "(say what they are on the Headers page)",
    "with a header map": "on the Headers page",
}  # fmt: skip

# Errors
NOT_FORESEEN = "Something went wrong that this program did not foresee. Your file is unchanged."
NOT_FORESEEN_DO = "What to do: try the file on its own, and report what it was if it happens again."
NOT_DONE = "This could not be done."
FOUND = "Found: {said}"
WHERE = "Where: {said}"
DO = "What to do: {said}"
SITE_ON_THIS_PAGE = "the site settings on this page"

# Nouns that are counted: one, more
UNIT = ("unit", "units")
REPAIR = ("repair", "repairs")
ROW = ("row", "rows")
ROUND = ("round", "rounds")

# Small parts of lists and tables
ALL = "all"
SHOW = "Show"
SHOW_MORE = "Show {count} more"
ITEM = "• {said}"
RANGE = "{low} to {high}"
NOT_GIVEN = "(not given)"
NUMBER_NOT_USED = "“{typed}” is not used: a number from {span} was expected here."
TABLE_OF = "Table: {heads}"
SAME_AS_TABLE = "The same as a table"
MORE_IN_FINDINGS = "{count} more are in the findings file."
CAUTIONS = "Before anything is opened or adjusted"
HEADS = {
    "rank": "Rank",
    "tag": "Tag",
    "annual_cost": "{currency} a year",
    "range": "10–90 % range",
    "annual_cost_low": "10 % point",
    "annual_cost_high": "90 % point",
    "state": "State",
    "action": "What to do",
    "confidence": "How sure",
    "cause": "Cause",
    "area": "Area",
    "station": "Station",
    "equipment": "Equipment",
    "device": "Device",
    "trap_type": "Type",
    "flags": "Doubts",
}
"""Column -> how it is headed in lists and named over filters."""

# A unit, its page and the work list
OPEN_UNIT = "Open {unit}"
TO_MY_LIST = "{unit} to my list"
OFF_MY_LIST = "{unit} off my list"
TAG_PART = "Tag has in it"

# Files to take away
FINDINGS_FILES = {
    "csv": "Findings, CSV",
    "xlsx": "Findings, Excel",
    "parquet": "Findings, Parquet",
}
REPORT_FILES = {"pdf": "Report, PDF", "html": "Report, web page", "xlsx": "Report, Excel"}
WORK_LIST_FILES = {
    "html": "Work list to print",
    "xlsx": "Work list, Excel",
    "csv": "Work list, CSV",
}
REJECTS_FILE = "Rows set aside, CSV"

# The work list: on the screen, on paper, as a workbook
WORK_LIST = "Work list"
WORK_LIST_OF = "Work list, {site}"
WORK_LIST_SHEET = "work list"
WORK_LIST_ORDER = "What is upstream comes first, with the units that it explains."
WORK_LIST_TABLE = "What to do, in order"
SHOWN_OF_REPAIRS = "{count} of {repairs} shown."
NO_ONE_AREA = "In no one area"
AREA_REPAIRS = "{area}: {repairs}"
LINE_EXPLAINS = "Explains"
LINE_BRING = "Bring"
LINE_READ_AGAIN = "Read again"
LINE_WHY = "Why"
WORK_LIST_HEADS = {
    "unit": "Unit",
    "what": "What to do",
    "where": "Where",
    "level": "First",
    "explains": "Explains",
    "parts": "Parts",
    "read_again": "Read again",
    "why": "Why",
}
