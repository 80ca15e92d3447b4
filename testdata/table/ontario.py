"""Independent figures of the open bridge file, for inventory/table's tests.

Run in this folder: python3 ontario.py
"""
import csv, decimal, gzip

with gzip.open("../open/ontario-bridge-index-a.csv.gz", "rt", encoding="utf-8", newline="") as f:
    rows = list(csv.DictReader(f))
print("rows", len(rows))
print("bridges", len({r["bridge"].strip() for r in rows}))
print("index total", sum(decimal.Decimal(r["bci"]) for r in rows if r["bci"]))
print("length total m", sum(decimal.Decimal(r["deck_length_m"]) for r in rows if r["deck_length_m"]))
print("blank last_major_rehab", sum(not r["last_major_rehab"].strip() for r in rows))
