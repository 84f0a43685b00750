"""The plant and its pressure, rounds over time, the next round, the owner's link."""

from __future__ import annotations

# The plant
PLANT_TITLE = "The plant, upstream first"
PRESSURE_DOWN = "Bringing the pressure down"
PRESSURE_WANTED = "Pressure wanted, {unit}"
SPARE_HEAT = "Heat to spare on the coldest day, %"
IN_COMMON = "What many units have in common"
CAUSE_AND_CHECK = "{cause} First: {check}"
WORK_LIST = "The work list, upstream before trap"
NOTHING_TO_DO = "Nothing is to be done."
AREA = "Area"
BEFORE_ANY_STEP = "**Before any step**"
NO_STATION = "(none named)"
STATION = "**Station {name}**"
STANDING = "It {standing}. {why}"
BINDS = "{tag} ({where}) binds at {psig} psig: {why}. {freed_by}"
UNKNOWN = "{what}: {count}. To do: {do}."
STEP = ("step", "steps")
STEPS = "The way down, {count}"
TO_MIND = "{what}: {note}"
STEP_LIST_FILES = {
    "pdf": "The step list to take along, PDF", "html": "The step list, web page",
}  # fmt: skip
ASSUMED = "What was assumed"

# Rounds over time
ROUNDS_TITLE = "Rounds over time"
ROUNDS_VIEWS = ("Rounds", "Over time", "Before and after")
TO_THE_NEXT = "Plan the next round"
NONE_OPEN_TO_KEEP = "No round is open just now. Open one, and it can be kept here."
KEPT = "This round is kept."
ROUND_NAME = "A name for this round"
ROUND_NAME_SUCH_AS = "Autumn, say"
ROUND_DAY = "The day it was read"
KEEP = "Keep this round"
ROUNDS_KEPT = "Rounds kept"
NO_ROUNDS = "None yet."
TAKE_ROUND_OUT = "Take a round out"
WHICH_ROUND = "Which one"
TAKE_OUT = "Take it out for good"
ROUND_CHOICE = "{title}, {day}"
ROUND_HEADS = {
    "title": "Round",
    "read_on": "Read on",
    "devices": "Devices",
    "cost": "Cost a year",
}
SAME_DEVICE = "The same device?"
SAME_DEVICE_INTRO = "Tags that may have changed between rounds. You decide; history follows."
TAG_CHANGED = "{earlier} → {later}. {reasons}."
SAME = "Yes, the same"
ANOTHER = "No, another"

# What the rounds show together
KEEP_TWO_FOR_TREND = "Keep two rounds or more, and what changed between them shows here."
TREND = "Cost of lost steam, a year"
TREND_CHART = "Cost of lost steam"
TREND_SAID = (
    "From {first} to {last} the cost of lost steam went from {first_cost} to {last_cost} a year, "
    "as found. The line under a bar spans its 10–90 % range; prices and hours may have changed "
    "too: see Before and after."
)
TREND_HEADS = ("Round", "Cost a year", "10–90 % range")
TREND_ROUND = "{day} {title}"
BY_GROUP = "Units by what they do"
BY_GROUP_SAID = (
    "Letting steam out: {out_first} units at first, {out_last} in the latest round. Holding "
    "water, air or heat back: {held_first} and {held_last}. In a bar: solid lets steam out, "
    "hatched holds back, dashed is undecided, the rest works."
)
COUNT_OF_GROUP = "{count} {group}"
BY_GROUP_ROUND = "Round"

# Before and after
KEEP_TWO_TO_COMPARE = "Keep two rounds, one before and one after, and they are held together here."
BEFORE = "Before"
AFTER = "After"
TAKEN_AT = "Hours, pressure and price"
TAKEN_AT_ROUND = {"after": "of the later round", "before": "of the earlier round"}
COMPARING = "Comparing …"
BEFORE_AFTER_FILES = {"pdf": "Before and after, PDF", "html": "Before and after, web page"}

# The next round
NEXT_TITLE = "The next round"
NOTHING_TO_PLAN_FROM = "Keep a round on the Rounds page, or open one: the next is planned from it."
PLANNED_FROM_OPEN = "Planned from the round that is open. Rounds that are kept tell more."
PLANNED_FROM_KEPT = "Planned from the {rounds} kept."
FITTING = "Working out how traps fail here …"
WHEN = "When to look again"
LOOK_COST = "What reading one trap costs, {currency}"
WHEN_INTRO = (
    "Looking often costs work, looking seldom costs steam. For each pressure, the interval at "
    "which the two together are least, in weeks of steam:"
)
WHEN_HEADS = {
    "pressure": "Pressure",
    "traps": "Traps",
    "weeks": "Look again after",
    "published": "Published (DOE)",
    "cost": "Steam and looking, a year",
    "worth": "Saves, against one look a season",
}
WEEKS = "{weeks} weeks ({low} to {high})"
ROUTE = "The route"
NEXT_DAY = "The day of the next round"
AREAS = "Areas"
ONLY_REASONS = "Only units that there is a reason to read"
STOPS = "{count} stops, {left} left out."
ON_THE_PHONE = (
    "On the phone: open the page once where there is a signal; it then works in a basement "
    "without one, warns at a reading that cannot be, and gives back a CSV to judge here."
)
ROUTE_PHONE = "Route for the phone"
ROUTE_SHEET = "Route sheet to print"
ROUTE_TABLE = "Route as a table, CSV"
STOPS_WITH_REASON = "The first stops with a reason of their own:"
STOP_HEADS = ("Unit", "Area", "Why")
LIKELIEST = "Likeliest to fail before {day}"
LIKELIEST_HEADS = ("Unit", "Area", "Chance")
CHANCE = "{chance} ({low} to {high})"

# The owner's link
LINK_TITLE = "Owner's link"
LINK_INTRO = (
    "A page for the owner, frozen as the findings are now. Whoever has the link can read it, "
    "and nothing else here; you can end it at any time."
)
NOTHING_TO_SHARE = "No round is open, so there is nothing new to share."
LINK_AREAS = "Areas to show"
LINK_COST = "Show what it costs"
LINK_DAYS = "Days it works"
LINK_LABEL = "Your own name for it (the owner does not see it)"
LINK_SINCE = "Show what changed since"
LINK_SINCE_NONE = "Nothing: this round alone"
MAKE_LINK = "Make the link"
LINK_MADE = "Made. Copy it now: it is shown this once and kept nowhere."
LINK_UNTIL = "It works until {moment} UTC."
LINKS_MADE = "Links made"
NO_LINKS = "None yet."
LINK_STANDING = {"open": "works", "expired": "over: its days are up", "revoked": "ended"}
LINK_HEADS = {
    "number": "Number",
    "state": "State",
    "until": "Works until",
    "name": "Name",
    "made": "Made",
}
END_LINK = "End a link"
WHICH_LINK = "Which one"
LINK_CHOICE = "{number} {name}"
END_IT = "End it now"
