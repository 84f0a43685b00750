"""The text of the technician's screens, in one place, ready to translate.

::

    screen_words.py    what stands on more than one page: the menu, buttons, heads, errors
    opening_words.py   from the door to a judged round: start, site settings, headers
    findings_words.py  a judged round: overview, ranking, charts, one unit
    planning_words.py  the plant, rounds over time, the next round, the owner's link

Sentences are whole. A name in braces is filled in where the text is shown, so a translation may
put it anywhere; a noun that is counted is a pair, for one and for more. Codes (the keys of the
dictionaries) are not read by people. Words that reports say too are in ``survey/reports``.
"""
