"""A raw print port that serves one session at a time: `one_session.py PORT refuse|wait`.

While it serves, the others are refused (nobody listens), or wait until the queue of the system is full, and what comes
after that is dropped. Says "listening", and "serving" once somebody is served, who is served until the end.
"""

import socket
import sys

PORT, MANNER = int(sys.argv[1]), sys.argv[2]

with socket.create_server(("0.0.0.0", PORT), backlog=0) as port:
    print("listening", flush=True)
    session, _ = port.accept()
    if MANNER == "refuse":
        port.close()
    print("serving", flush=True)
    while session.recv(65536):
        pass
    sys.stdin.readline()
