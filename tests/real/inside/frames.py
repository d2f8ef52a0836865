"""Prints every frame that passes an interface, as `out HEX` or `in HEX`: `frames.py INTERFACE` (packet(7))."""

import socket
import sys

ETH_P_ALL, PACKET_OUTGOING = 0x0003, 4

with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(ETH_P_ALL)) as packets:
    packets.bind((sys.argv[1], 0))
    print("listening", flush=True)
    while True:
        frame, (_, _, kind, *_) = packets.recvfrom(65535)
        print("out" if kind == PACKET_OUTGOING else "in", frame.hex(), flush=True)
