"""What every test that opens the screens' application shares."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache

import pytest
from streamlit.components.v2 import manifest_scanner


@pytest.fixture(scope="session", autouse=True)
def packages_looked_through_once() -> Iterator[None]:
    """Let Streamlit look through all that is installed once, not for every app that is opened."""
    with pytest.MonkeyPatch.context() as patch:
        once = cache(manifest_scanner.scan_component_manifests)
        patch.setattr(manifest_scanner, "scan_component_manifests", once)
        yield
