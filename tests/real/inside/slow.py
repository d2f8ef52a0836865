"""A cable that is slow: `slow.py THERE MILLISECONDS`, until it is ended.

It makes two interfaces, `eth0` in the network namespace whose file is THERE and `slow` where it is run, and carries
every frame from one to the other after so long. (tap devices: Linux, Documentation/networking/tuntap; setns(2).)
"""

import ctypes
import fcntl
import os
import select
import struct
import sys
import time
from collections import deque

TUNSETIFF, IFF_TAP, IFF_NO_PI, CLONE_NEWNET = 0x400454CA, 0x0002, 0x1000, 0x40000000
THERE, DELAY_S = sys.argv[1], int(sys.argv[2]) / 1000


def tap(name: str) -> int:
    end = os.open("/dev/net/tun", os.O_RDWR)
    fcntl.ioctl(end, TUNSETIFF, struct.pack("16sH", name.encode(), IFF_TAP | IFF_NO_PI))
    return end


def enter(namespace: str) -> None:
    file = os.open(namespace, os.O_RDONLY)
    if ctypes.CDLL(None, use_errno=True).setns(file, CLONE_NEWNET):
        raise OSError(ctypes.get_errno(), os.strerror(ctypes.get_errno()), namespace)
    os.close(file)


here = tap("slow")
home = os.open("/proc/self/ns/net", os.O_RDONLY)
enter(THERE)
there = tap("eth0")
enter(f"/proc/self/fd/{home}")
print("connected", flush=True)

other = {here: there, there: here}
waiting: deque[tuple[float, int, bytes]] = deque()
while True:
    rest = max(0.0, waiting[0][0] - time.monotonic()) if waiting else None
    for end in select.select([here, there], [], [], rest)[0]:
        waiting.append((time.monotonic() + DELAY_S, other[end], os.read(end, 65536)))
    while waiting and waiting[0][0] <= time.monotonic():
        _, to, frame = waiting.popleft()
        try:
            os.write(to, frame)
        except OSError:
            continue  # that end is down, as an unplugged cable is
