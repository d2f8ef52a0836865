"""A name server that knows no name: NXDOMAIN to every question (RFC 1035 s4.1.1), on 127.0.0.1 port 53."""

import socket

RESPONSE, NAME_ERROR = 0x8180, 3

with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as server:
    server.bind(("127.0.0.1", 53))
    print("listening", flush=True)
    while True:
        question, asker = server.recvfrom(512)
        header = question[:2] + (RESPONSE | NAME_ERROR).to_bytes(2) + question[4:6] + bytes(6)
        body = question[12 : question.index(0, 12) + 5]
        server.sendto(header + body, asker)
