"""The technician's screens: thin pages over `analyze`; Streamlit is loaded here and nowhere else.

::

    launch.py      starts the screens and the owner's pages, each on its own port
    served.py      the web application: entrance, security headers, compression
    screens.py     the script Streamlit runs: the list of pages
    start.py -> understood.py -> overview.py -> ranking.py, readings.py, unit.py -> owner_link.py
    judging.py     upload to findings, no Streamlit in it
    state.py       what a session remembers;  say.py  text that is never taken for markup
    figures.py     plotly, loaded only by the pages that draw
"""
