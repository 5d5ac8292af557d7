"""Single soundings gathered into batches, for sources that come one sounding at a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from encoder.columns import LEVEL_COLUMNS
from encoder.convert.batch import (
    LEVEL_TYPES,
    NO_TYPE,
    PROFILE_COLUMNS,
    STATUSES,
    TENTHS,
    Batch,
    profile_columns,
)
from encoder.sounding import NOT_REPORTED, REPORTED

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

COUNTED = tuple(TENTHS)
"""Level columns that are counted as values: what is measured, nothing computed from it but the
relative humidity where a source gives one."""


def values_of(columns: Mapping[str, NDArray[Any]]) -> int:
    """Return how many values level columns have."""
    return int(sum(np.count_nonzero(~np.isnan(columns[name])) for name in COUNTED))


class Gathered:
    """Soundings by station, in the order added."""

    def __init__(self) -> None:
        self._soundings: dict[str, list[dict[str, Any]]] = {}

    def add(
        self,
        station: str,
        columns: Mapping[str, NDArray[Any]],
        kinds: NDArray[Any],
        *,
        status: Mapping[str, NDArray[Any]] | None = None,
        quality: NDArray[Any] | None = None,
        text: str = "",
        **profile: Any,
    ) -> None:
        """Add a sounding.

        Parameters
        ----------
        station : str
        columns : mapping of str to ndarray, shape (level,)
            By :data:`encoder.columns.LEVEL_COLUMNS`; those not there are missing.
        kinds : ndarray of int
        status : mapping of str to ndarray, optional
            By :data:`encoder.sounding.STATUS_COLUMNS`; else reported where there is a value.
        quality : ndarray of int, optional
            Findings on the levels.
        text : str
            Coded report.
        profile
            Of :data:`encoder.convert.batch.PROFILE_COLUMNS`.
        """
        count = len(kinds)
        nothing = np.full(count, np.nan)
        whole = {name: columns.get(name, nothing) for name in LEVEL_COLUMNS}
        profile.setdefault("values", values_of(whole))
        self._soundings.setdefault(station, []).append(
            {
                "columns": whole,
                "kinds": kinds,
                "status": status or {},
                "quality": quality,
                "text": text,
                "profile": {**profile, "row_size": count},
            }
        )

    def batches(self) -> dict[str, Batch]:
        """Return the soundings of each station as a batch."""
        return {name: self._batch(name) for name in sorted(self._soundings)}

    def _batch(self, station: str) -> Batch:
        own = self._soundings[station]
        levels: dict[str, NDArray[Any]] = {
            name: np.concatenate([item["columns"][name] for item in own]) for name in LEVEL_COLUMNS
        }
        count = len(levels["time"])
        levels["kinds"] = np.concatenate([item["kinds"] for item in own]).astype(np.int32)
        for name in STATUSES:
            column = "time" if name == "elapsed_time" else name
            levels[f"{name}_status"] = np.concatenate(
                [
                    np.asarray(
                        item["status"].get(name, plain_status(item["columns"][column])),
                        dtype=np.int8,
                    )
                    for item in own
                ]
            )
        for name, dtype in LEVEL_TYPES.items():
            if name not in levels:
                usual = NO_TYPE if name == "source_level_type" else 0
                levels[name] = np.full(count, usual, dtype=dtype)
        levels["level_quality"] = np.concatenate(
            [
                np.zeros(len(item["kinds"]), dtype=np.int16)
                if item["quality"] is None
                else item["quality"].astype(np.int16)
                for item in own
            ]
        )
        given = {
            name: [item["profile"].get(name, usual) for item in own]
            for name, (_dtype, usual) in PROFILE_COLUMNS.items()
        }
        texts: tuple[str, ...] = ()
        if any(item["text"] for item in own):
            texts = tuple(item["text"] for item in own)
        return Batch(station, False, profile_columns(len(own), **given), levels, texts)


def plain_status(values: NDArray[Any]) -> NDArray[np.int8]:
    """Return the status of values nothing more is known of."""
    return np.where(np.isnan(values), NOT_REPORTED, REPORTED).astype(np.int8)
