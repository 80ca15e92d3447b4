#!/usr/bin/env python3
"""Counts a delimited bridge inventory with nothing of the project's own.

usage: counts.py FILE.txt.gz

Prints JSON. The quoting of the open file happens to suit Python's csv reader,
whose columns are counted here too, so a row that does not suit it would show.
"""
import csv
import gzip
import io
import json
import sys

text = io.TextIOWrapper(gzip.open(sys.argv[1]), encoding="latin-1", newline="")
rows = csv.DictReader(text, quotechar="'")
counts = {
    "Records": 0, "Columns": 0, "Structures": 0, "NHS": 0, "SkewVaries": 0, "Twins": 0,
    "Continuous": 0, "Rebuilt": 0, "Placed": 0, "ADT": 0, "LengthDm": 0, "DeckRated": 0, "InspectedIn2018": 0,
}
structures, columns = set(), set()


def placed(lat, lon):
    """Eight and nine digits, or decimals of a second; minutes and seconds under 60."""
    def part(value, width):
        whole, _, fraction = value.strip().partition(".")
        if fraction.strip("0"):
            width -= 2
        elif not whole.strip("0"):
            return False
        whole = whole.zfill(width)
        at = width - 6 if width >= 8 else width - 4
        return int(whole[at:at + 2]) < 60 and int(whole[at + 2:at + 4]) < 60
    return part(lat, 8) and part(lon, 9)


for row in rows:
    counts["Records"] += 1
    columns.add(len(row) if None not in row else -1)
    structures.add(row["STRUCTURE_NUMBER_008"].strip())
    counts["NHS"] += row["HIGHWAY_SYSTEM_104"] == "1"
    counts["SkewVaries"] += row["DEGREES_SKEW_034"] == "99"
    counts["Twins"] += row["PARALLEL_STRUCTURE_101"] in ("L", "R")
    counts["Continuous"] += row["STRUCTURE_KIND_043A"] in ("2", "4", "6")
    counts["Rebuilt"] += row["YEAR_RECONSTRUCTED_106"].strip() not in ("", "0", "0000")
    counts["Placed"] += placed(row["LAT_016"], row["LONG_017"])
    counts["ADT"] += int(row["ADT_029"] or 0)
    counts["LengthDm"] += round(10 * float(row["STRUCTURE_LEN_MT_049"]))
    counts["DeckRated"] += row["DECK_COND_058"].isdigit()
    counts["InspectedIn2018"] += row["DATE_OF_INSPECT_090"].endswith("18")
counts["Structures"] = len(structures)
counts["Columns"] = columns.pop() if len(columns) == 1 else -1
json.dump(counts, sys.stdout)
