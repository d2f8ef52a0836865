"""Prints every frame that leaves by an interface, as `SECONDS HEX`, by the kernel's clock: `stamped.py INTERFACE`
(packet(7), socket(7))."""

import socket
import struct
import sys

ETH_P_ALL, PACKET_OUTGOING, SO_TIMESTAMPNS = 0x0003, 4, 35

with socket.socket(socket.AF_PACKET, socket.SOCK_RAW, socket.htons(ETH_P_ALL)) as packets:
    packets.setsockopt(socket.SOL_SOCKET, SO_TIMESTAMPNS, 1)
    packets.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4 << 20)
    packets.bind((sys.argv[1], 0))
    print("listening", flush=True)
    while True:
        frame, ancillary, _, (_, _, kind, *_) = packets.recvmsg(65535, 64)
        if kind == PACKET_OUTGOING:
            seconds, nanoseconds = struct.unpack("qq", ancillary[0][2])
            print(f"{seconds}.{nanoseconds:09}", frame.hex(), flush=True)
