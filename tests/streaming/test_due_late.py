"""A round whose first batches have nothing due, and a later one something."""

from __future__ import annotations

import pandas as pd
import pyarrow as pa

from survey.streaming.judging import due_tags


def test_tags_of_batches_go_together_though_one_has_none() -> None:
    table = pd.DataFrame({"tag": ["T-1", "T-2"], "state": ["working", "failed_open"]})
    table["tag"] = table["tag"].astype(pd.ArrowDtype(pa.large_string()))
    batches = [due_tags(table[:1]), due_tags(table[1:]), due_tags(table)]
    assert pa.chunked_array(batches).to_pylist() == ["T-2", "T-2"]
