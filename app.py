"""The technician's screens on their own: ``streamlit run app.py``.

``survey dashboard`` starts them together with the owner's pages.
"""

from streamlit.starlette import App

from survey.dashboard.served import MIDDLEWARE, SCREENS, guarded

app = App(str(SCREENS), middleware=MIDDLEWARE, lifespan=guarded)
