#!/usr/bin/env python3
"""Prints the geometry blobs that the tests of geo/gpkg hold as constants.

Laid out from OGC 12-128r19 section 2.1.3 with the struct module alone:
GP, version 0, flags, srs_id, envelope (minx maxx miny maxy), well-known binary.
"""
import struct

X, Y, SRS = -122.25, 47.5, 4326


def blob(order, flags, envelope, body):
    flags |= 1 if order == "<" else 0
    return (b"GP" + bytes([0, flags]) + struct.pack(order + "i", SRS)
            + struct.pack(order + "%dd" % len(envelope), *envelope) + body).hex()


def point(order, x, y):
    return struct.pack(order + "BI2d", 1 if order == "<" else 0, 1, x, y)


def line(order, *places):
    return (struct.pack(order + "BII", 1 if order == "<" else 0, 2, len(places))
            + b"".join(struct.pack(order + "2d", *p) for p in places))


QUIET_NAN = struct.unpack("<d", bytes.fromhex("000000000000f87f"))[0]
XY, EMPTY = 1 << 1, 1 << 4
print("pointBlob        ", blob("<", 0, [], point("<", X, Y)))
print("pointEnvelopeBlob", blob("<", XY, [X, X, Y, Y], point("<", X, Y)))
print("pointBigEndian   ", blob(">", 0, [], point(">", X, Y)))
print("pointBigEnvelope ", blob(">", XY, [X, X, Y, Y], point(">", X, Y)))
print("pointEmptyBlob   ", blob("<", EMPTY, [], point("<", QUIET_NAN, QUIET_NAN)))
print("lineEmptyBlob    ", blob("<", EMPTY, [], line("<")))
print("lineBlob         ", blob("<", XY, [X, -122, Y, 48], line("<", (X, Y), (-122, 48))))
