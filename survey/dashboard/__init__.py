"""The technician's screens: thin pages over `analyze`; Streamlit is loaded here and nowhere else.

::

    launch.py      starts the screens and the owner's pages (servers.py, addresses.py)
    served.py      the web application: entrance.py, security headers, compression
    screens.py     the script Streamlit runs: the menu and the list of pages
    start.py -> understood.py -> overview.py -> ranking.py, readings.py, unit.py -> owner_link.py
                   from a file to the owner; with corrections.py, site_form.py, figures_form.py,
                   link_since.py
    ranking.py     ranked_table.py on a desk, cards.py on a phone; my_list.py what was ticked
    unit.py        unit_readings.py, unit_history.py
    other_readings.py  what would change a verdict;  what_if.py  one unit judged again
    plan.py        the plant, and the way down in pressure (work_lines.py)
    rounds.py      round_trend.py, before_after.py;  next_round.py  from round_basis.py
    flow.py        the steps from a file to findings;  judging.py, headers.py  without Streamlit
    state.py       what a session remembers;  kept.py, remembered.py  what outlives it
    say.py         text that is never taken for markup;  drawing.py  pictures, as SVG
    frames.py      picking and naming rows;  downloads.py, blocks_shown.py  papers
    settings.py    Streamlit's settings;  look.py, screens.css  what they cannot say
    wording/       every text of the screens, ready to translate
"""
