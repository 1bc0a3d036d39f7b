"""Writes trouble.csv: complaints with a planted cause, and how the causes are ranked.

Run ``python tests/reference/build_trouble.py`` (some ten minutes).
"""

from __future__ import annotations

from complaints import COINCIDENCE, NOTICED, complaint
from reference_csv import write_csv

COMPLAINTS = 500


def row(number: int) -> dict[str, object]:
    """One complaint and its rankings."""
    told = complaint(number)
    ranked: dict[str, object] = {"complaint": told.complaint, "cause": told.cause}
    for when, answer in zip(("two", "three"), told.rankings(), strict=True):
        names = [cause.name for cause in answer.causes]
        ranked[f"seen_{when}"] = " ".join(f"{test}={said}" for test, said in answer.seen)
        ranked[f"first_{when}"], ranked[f"second_{when}"] = (*names, "", "")[:2]
    return ranked


def main() -> None:
    """Write the table."""
    write_csv(
        "trouble.csv",
        [
            "Complaints in simulated worlds, each with a planted cause (even among the causes of"
            " its complaint); written by build_trouble.py, worlds and makers by complaints.py.",
            "_two: ranking after what happened and two observations: odd things that the maker"
            " noticed, or where these are fewer tests as they were named.",
            "_three: after the answer to the one test that was named then.",
            f"A maker notices a sign of the cause with a chance of {NOTICED[0]} to {NOTICED[1]},"
            f" and one of another with {COINCIDENCE[0]} to {COINCIDENCE[1]}, even between.",
        ],
        [row(number) for number in range(COMPLAINTS)],
    )


if __name__ == "__main__":
    main()
