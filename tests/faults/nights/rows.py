"""SIGKILL at random moments while a list of forty rows is unfolded and worked: every row ends exactly once."""

from __future__ import annotations

import json
import random
import re
import time
from collections import Counter
from typing import TYPE_CHECKING

from .ends import half
from .studio import BLANK, Piece, children, folders, kill, sha256

if TYPE_CHECKING:
    from pathlib import Path

    from .bench import Bench
    from .studio import Studio

ROWS = 40
BAD = {5, 17, 33}
"""Rows that ask for no copies at all."""
LINES = range(2, ROWS + 2)


def rows(bench: Bench) -> None:
    """The list is killed and killed again, then saved once more: all of it is made already."""
    times = bench.much(3, 40)
    broken: list[str] = []
    kills = 0
    for night in range(times):
        studio = bench.studio(f"rows{night}")
        save(studio)
        # At first often, so that kills fall into the unfolding, which is short.
        for rest in [0.02] * 12 + [0.15] * 12 + [0.6] * 6:
            daemon = studio.start()
            time.sleep(rest * (0.5 + random.random()))
            kill(daemon, *(children(daemon) if random.random() < 0.5 else ()))
            kills += 1
        studio.once(600)
        broken += [f"night {night}: {breach}" for breach in breaches(studio)]
        made = len(made_of(studio))
        save(studio)
        studio.once(600)
        if len(made_of(studio)) != made:
            broken.append(f"night {night}: saved again, {len(made_of(studio)) - made} rows are made twice")
    bench.found.add("every row of a list ends once", not broken, f"{times} lists of {ROWS} rows, {kills} kills; {broken[:5]}")


def save(studio: Studio) -> None:
    """One picture, its order and the list, the list in two halves."""
    piece = Piece(1)
    lines = ["name,copies", *(f"visitor {line},{0 if line in BAD else 1}" for line in LINES)]
    text = "\n".join(lines).encode()
    with (studio.incoming / "visitors.csv").open("wb", buffering=0) as file:
        file.write(text[:100])
        file.write(text[100:])
    (studio.incoming / "chart.png").write_bytes(piece.picture)
    order = {"blank": BLANK, "allow_low_ppi": True, "list": "visitors.csv"}
    (studio.incoming / "chart.yaml").write_text(json.dumps(order), encoding="utf-8")


def made_of(studio: Studio) -> list[Path]:
    """The finished rows."""
    return [folder for folder in studio.finished() if (folder / "record.json").is_file()]


def breaches(studio: Studio) -> list[str]:
    """How the studio breaks its word about the rows."""
    found = [complaint for folder in made_of(studio) if (complaint := half(folder))]
    ended: Counter[int] = Counter()
    for folder in made_of(studio):
        ended[json.loads((folder / "record.json").read_text(encoding="utf-8"))["row"]["line"]] += 1
    for folder in folders(studio.refused):
        why = (folder / "why.txt").read_text(encoding="utf-8")
        lines = [line for line in LINES if re.search(rf"visitors\.csv, line {line}\b", why)]
        ended.update(lines)
        if not BAD.issuperset(lines) or len(lines) != 1:
            found.append(f"{folder.name} is refused: {why[:200]}")
    found += [f"line {line} ended {ended[line]} times" for line in LINES if ended[line] != 1]
    lists = [folder for folder in folders(studio.kept) if (folder / "rows.json").is_file()]
    summaries = [folder for folder in studio.finished() if (folder / "summary.txt").is_file()]
    if len(lists) != 1 or len(summaries) != 1:
        found.append(f"the list is kept {len(lists)} times and told of {len(summaries)} times")
    else:
        told = (summaries[0] / "summary.txt").read_text(encoding="utf-8")
        if f"{ROWS - len(BAD)} done, {len(BAD)} refused" not in told:
            found.append(f"the summary says {told.splitlines()[1]}")
    art = sha256(Piece(1).picture)
    for job in [*folders(studio.kept), *folders(studio.refused)]:
        if [sha256(file.read_bytes()) for file in job.glob("*.png")] != [art]:
            found.append(f"{job.name} has not its picture")
    return found + [f"left lying: {place.relative_to(studio.root)}" for place in studio.waiting() + studio.unfinished()]
