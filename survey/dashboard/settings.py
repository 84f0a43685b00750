"""How Streamlit is set up, wherever it is started from."""

from __future__ import annotations

from collections.abc import Mapping

from survey.reports.palette import DARK, LIGHT

LARGEST_UPLOAD_MB = 25


def _theme(name: str, colours: Mapping[str, str]) -> dict[str, str]:
    return {
        f"theme.{name}.{option}": colours[colour]
        for option, colour in (
            ("primaryColor", "copper"),
            ("backgroundColor", "sheet"),
            ("secondaryBackgroundColor", "quiet-wash"),
            ("textColor", "ink"),
            ("borderColor", "quiet"),
            ("linkColor", "slate"),
        )
    }


SETTINGS: dict[str, str] = {
    "browser.gatherUsageStats": "false",
    "client.showErrorDetails": "none",
    "client.showErrorLinks": "false",
    "client.toolbarMode": "minimal",
    "runner.magicEnabled": "false",
    "server.enableAgentApi": "false",
    "server.enableStaticServing": "false",
    "server.fileWatcherType": "none",
    "server.headless": "true",
    "server.maxUploadSize": str(LARGEST_UPLOAD_MB),
    "server.showEmailPrompt": "false",
    "theme.baseFontSize": "18",
    "theme.headingFontSizes": '["1.9rem", "1.45rem", "1.2rem"]',
    **_theme("light", LIGHT),
    **_theme("dark", DARK),
}


def flags(more: Mapping[str, str]) -> list[str]:
    """Return the settings, and some more, as options of ``streamlit run``."""
    return [f"--{name}={value}" for name, value in {**SETTINGS, **more}.items()]
