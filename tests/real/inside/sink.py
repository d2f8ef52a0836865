"""A raw print port that keeps every byte it is sent, run inside a printer's namespace: `sink.py PORT FOLDER`.

FOLDER/connections gets a line for each connection as it begins, FOLDER/ended as it ends, FOLDER/received the bytes of
them all. They are there from the start: an empty file means that nothing came, no file that nothing listened.
"""

import socketserver
import sys
from contextlib import suppress
from pathlib import Path

PORT, FOLDER = int(sys.argv[1]), Path(sys.argv[2])


class Keep(socketserver.BaseRequestHandler):
    def handle(self) -> None:
        with (FOLDER / "connections").open("a") as connections:
            connections.write(f"{self.client_address[0]}\n")
        with (FOLDER / "received").open("ab", buffering=0) as received, suppress(ConnectionResetError):
            while data := self.request.recv(65536):
                received.write(data)
        with (FOLDER / "ended").open("a") as ended:
            ended.write(f"{self.client_address[0]}\n")


class Server(socketserver.ThreadingTCPServer):
    allow_reuse_address = True
    daemon_threads = True


for name in ("connections", "received", "ended"):
    (FOLDER / name).touch()
Server(("0.0.0.0", PORT), Keep).serve_forever()
