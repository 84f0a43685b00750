"""The technician's screens: thin pages over `analyze`; Streamlit is loaded here and nowhere else.

::

    launch.py      starts the screens and the owner's pages (servers.py, addresses.py)
    served.py      the web application: entrance.py, security headers, compression
    screens.py     the script Streamlit runs: the menu and the list of pages
    start.py -> understood.py -> overview.py -> ranking.py, readings.py, unit.py -> owner_link.py
    flow.py        the steps from a file to findings;  judging.py, headers.py  without Streamlit
    state.py       what a session remembers;  say.py  text that is never taken for markup
    frames.py      picking and naming rows;  figures.py  plotly, only for pages that draw
    settings.py    Streamlit's settings;  look.py  what they cannot say
"""
