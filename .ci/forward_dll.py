#!/usr/bin/env python3
"""Writes a DLL for wine that exports one function, which another DLL has under another name: forward.py FILE NAME TARGET."""
import struct, sys

file, function, target = sys.argv[1:]
name = file.rsplit("/", 1)[-1]
at = 0x1000  # where the only section lies in memory
exports = 40  # bytes of the directory; tables and texts follow
functions, names, ordinals = at + exports, at + exports + 4, at + exports + 8
texts, place = b"", {}
for text in (name, function, target):
    place[text] = at + exports + 12 + len(texts)
    texts += text.encode() + b"\0"
section = struct.pack("<IIHHIIIIIII", 0, 0, 0, 0, place[name], 1, 1, 1, functions, names, ordinals)
section += struct.pack("<IIHH", place[target], place[function], 0, 0) + texts
size = len(section)
section = section.ljust(0x200, b"\0")
dos = b"MZ".ljust(60, b"\0") + struct.pack("<I", 64)
coff = b"PE\0\0" + struct.pack("<HHIIIHH", 0x8664, 1, 0, 0, 0, 240, 0x2022)  # amd64, one section, a DLL
optional = struct.pack("<HBBIIIII", 0x20B, 0, 0, 0, 0x200, 0, 0, at)
optional += struct.pack("<QIIHHHHHHIIIIHH", 0x180000000, 0x1000, 0x200, 6, 0, 0, 0, 6, 0, 0, 0x2000, 0x200, 0, 3, 0x100)
optional += struct.pack("<QQQQII", 0x100000, 0x1000, 0x100000, 0x1000, 0, 16)
optional += struct.pack("<II", at, size) + bytes(15 * 8)
header = b".edata\0\0" + struct.pack("<IIIIIIHHI", size, at, 0x200, 0x200, 0, 0, 0, 0, 0x40000040)
with open(file, "wb") as f:
    f.write((dos + coff + optional + header).ljust(0x200, b"\0") + section)
