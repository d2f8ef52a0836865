"""Counts what passes an interface to or from UDP port 5353, until a line comes in: `sniff.py INTERFACE` (packet(7))."""

import socket
import sys

ETH_P_ALL = 0x0003
MDNS = (5353).to_bytes(2)

seen = 0
with socket.socket(socket.AF_PACKET, socket.SOCK_DGRAM, socket.ntohs(ETH_P_ALL)) as packets:
    packets.bind((sys.argv[1], 0))
    packets.setblocking(False)
    print("listening", flush=True)
    sys.stdin.readline()
    while True:
        try:
            octets = packets.recv(2048)
        except BlockingIOError:
            break
        header = 40 if octets[0] >> 4 == 6 else (octets[0] & 15) * 4
        seen += MDNS in (octets[header : header + 2], octets[header + 2 : header + 4])
print(seen)
