#!/usr/bin/env python3
"""Counts FHWA element data with Python's own XML parser.

usage: counts.py FILE.xml.gz

Prints JSON: records, structures, those of joints, and for the joint elements
300 to 306 their records, feet and feet by condition state.
"""
import gzip
import json
import sys
import xml.etree.ElementTree as tree

records = joints = unsummed = 0
structures, with_joint = set(), set()
by_element, feet = [0] * 7, [0] * 7
states = [[0] * 4 for _ in range(7)]
for _, e in tree.iterparse(gzip.open(sys.argv[1])):
    if e.tag != "FHWAED":
        continue
    records += 1
    key = (e.findtext("STATE"), e.findtext("STRUCNUM").strip())
    structures.add(key)
    total = int(e.findtext("TOTALQTY"))
    parts = [int(e.findtext("CS%d" % i)) for i in (1, 2, 3, 4)]
    unsummed += sum(parts) != total
    number = int(e.findtext("EN"))
    if 300 <= number <= 306:
        joints += 1
        with_joint.add(key)
        by_element[number - 300] += 1
        feet[number - 300] += total
        for i, part in enumerate(parts):
            states[number - 300][i] += part
    e.clear()
json.dump({
    "Records": records, "Structures": len(structures), "Joints": joints, "WithJoint": len(with_joint),
    "Unsummed": unsummed, "ByElement": by_element, "Feet": feet, "States": states,
}, sys.stdout)
