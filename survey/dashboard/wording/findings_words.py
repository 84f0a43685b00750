"""A judged round: its overview, the ranked list, the charts, one unit."""

from __future__ import annotations

# The overview
OVERVIEW_TITLE = "Overview"
TO_THE_LIST = "See what to mend first"
DEVICES_JUDGED = "Devices judged"
ROWS_READ = "{rows} read, {aside} set aside"
LINE_OF_TOTALS = "{count} of those set aside is a line of totals, not a device"
LINES_OF_TOTALS = "{count} of those set aside are lines of totals, not devices"
LOST_COST = "Cost of lost steam, a year"
LOST_STEAM = "Steam lost"
CARBON_DIOXIDE = "Carbon dioxide of that loss: {tonnes} t a year. {basis}"
TOTAL_RANGE = "10–90 % range: {low} to {high}"
BY_STATE = "Units by state"
BY_STATE_HEADS = {
    "device": "Device",
    "state": "State",
    "group": "What it means",
    "count": "Units",
}
SET_ASIDE = "Set aside, and why"
NONE_SET_ASIDE = "Nothing was set aside: every row read was judged."
SET_ASIDE_INTRO = (
    "These rows could not be judged as they stand. They are kept whole: mend them in your "
    "file and give it again."
)
SET_ASIDE_HEADS = {
    "row": "Row",
    "tag": "Tag",
    "column": "Column",
    "value": "Value",
    "reason": "Reason",
}
MORE_SET_ASIDE = "{count} more are in the file of rows set aside."
INSTRUMENTS = "What the instruments were found to do"
FILE_NOTES = "Notes on the file"
ASSUMPTIONS = "Assumptions"

# The ranked list
RANKING_TITLE = "What to mend first"
RANKING_VIEWS = ("The list", "Cost of each", "Cost added up")
NONE_PASSES = "No device passes these filters. Take one away to see more."
TAKE_AWAY = "Take the findings away"
EVERY_COLUMN = "As a table for other programs: every column, nothing left out"
TO_THE_LINK = "Make the owner's link"
LARGE_BUTTONS = "The first of them with large buttons"
ONLY_TO_DO = "Only what needs something done"
FILTER = "Filter by place, device, state, cause or type"
DEVICES_SHOWN = "{count} of {all} devices shown."
FEW_LOSE = "Fewer than three of the devices shown lose steam, so there is nothing to draw."
NONE_LOSES = "None of the devices shown loses steam, so there is no cost to add up."
ADDED_UP = (
    "Mend the dearest first: the first {units} of {all} carry 80 % of the cost of those shown; "
    "after that the curve flattens."
)
ADDED_UP_CHART = "Cost added up"
ADDED_UP_HEADS = {
    "tag": "Tag",
    "annual_cost": "Cost a year",
    "running": "Added up",
    "share": "Share of all",
}
TOUCH_A_ROW = "Touch a row to open it, or to put it on your list."
PARTS = "{count} at a time are listed, dearest first; filter to see fewer"

# A unit as a card
STATE_AND_SURE = "{state}, {sure}"
A_YEAR = "{figure} a year"
LOSES_NONE = "Loses no steam"

# The units that were ticked
MY_LIST = "My work list"
TICK_UNITS = (
    "Tick units in the list, or touch their “to my list”: they come together here, to take along."
)
OPEN_TICKED_LAST = "Open {unit}, ticked last"
TICKED = "{units} ticked, {repairs}: what is upstream comes first, with the units that it explains."
EMPTY_LIST = "Empty the work list"

# The charts
CHARTS_TITLE = "The round in pictures"
CHART_HEAT = "Heat"
CHART_SOUND = "Sound"
CHART_CAUSES = "Causes"
CHART_INSTRUMENTS = "Instruments"
NO_HEAT = "No trap shown has an inlet temperature and a pressure, so there is nothing to draw."
NO_SOUND = "No trap shown has a sound and its background, so there is nothing to draw."
NO_CAUSES = "Nothing shown needs anything done, so there is nothing to draw."
NO_INSTRUMENTS = (
    "Too few readings of one kind to tell what the instruments do: there is nothing to draw."
)

# One unit
UNIT_TITLE = "One unit"
PICK_UNIT = "Tag (type to search; the list starts with the dearest)"
PUT_ON_LIST = "Put it on my work list"
TAKE_OFF_LIST = "Take it off my work list"
SURE_AND_MEANING = "{sure}. {meaning}"
UNIT_COSTS = "Costs about {cost} a year."
WOULD_SETTLE = "What would settle it"
TO_DO = "What to do"
WHY = "Why"
DOUBTS = "Doubts about the readings"
NOTE = "Note"
SAME_EQUIPMENT = "Other devices of the same equipment"

# Its readings
READINGS = "Readings against what they are held to"
DOTS_AND_STROKES = "Dots are read; strokes are what they are held to."
TEMPERATURES_CHART = "Temperatures of this unit"
READING_HEADS = ("Reading", "Value", "Held to")
PROBABILITIES = "How probable each state is"
STATE = "State"
PROBABILITY = "Probability"

# The same with other readings
OTHERS = "What would change the verdict"
OTHERS_INTRO = (
    "This unit is judged again, each time with one of its readings another. It takes a "
    "few seconds the first time."
)
TRY_OTHERS = "Try other readings"
JUDGING_AGAIN = "Judging again …"
NONE_CHANGES = "No single reading that was tried would change the verdict."
ANY_CHANGES = "Any one of these would change the verdict:"
ALL_TRIED = "Everything that was tried"
NOT_READ = "not read"
OTHER_HEADS = {
    "reading": "Reading",
    "was": "It was",
    "had it been": "Had it been",
    "verdict": "The verdict",
    "sure": "How sure",
}

# Its history
HISTORY = "History"
NO_HISTORY = "No round with this unit is kept yet. Keep this round on the Rounds page."
REPAIRED = "Repaired {day}: {what}"
REPAIRED_AT_COST = "Repaired {day}: {what}, at a cost of {cost}"
NOT_SAID_HOW = "not said how"
HISTORY_NOTE = "Note: {said}"
HISTORY_READ_ON = "Read on"
HISTORY_STATE = "State"
HISTORY_SURE = "How sure"
HISTORY_ROUND = "Round"
NOTE_REPAIR = "Note a repair of this unit"
DONE_ON = "Done on"
WHAT_WAS_DONE = "What was done"
REPAIR_COST = "What it cost, parts and labour, {currency}"
NOTE_IT = "Note it"
