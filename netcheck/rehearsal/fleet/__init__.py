"""A simulated fleet: thousands of devices on loopback, most of them well, each of the others with a fault of its own.

    with held_fleet(1000, folder) as fleet:
        fleet.fleet_csv, fleet.standard, fleet.expected

kinds ─ members      which device is what, by its number alone, and what it must come out as; data
replay ─ http ─ talk what a device says; pure
responder            the devices, in processes of their own: sockets and a plain epoll loop
holding ─ listing    starts and ends those processes; the files that lead to the devices

Every device has an address of its own in 127.0.0.0/8, and what it says is worked out by the rehearsal's agent and
printer. No socket takes anything that did not come over loopback. Linux only, from 5.7 on: other systems have one
address there, or none that a listener for all of them could be tied to.
"""

from netcheck.rehearsal.fleet.holding import Held, NotHereError, held_fleet
from netcheck.rehearsal.fleet.listing import Expected

__all__ = ["Expected", "Held", "NotHereError", "held_fleet"]
