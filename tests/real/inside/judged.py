"""`netcheck` as it is, with the probes of the link whether or not this installation names them: `judged.py WORD...`"""

from netcheck import probing
from probes import address, names

OF_THE_LINK = (address.PROBE, address.PLANNED, address.ROUTERS, names.REVERSE)

found = list(probing.installed())
named = {each.name for each in found}
found += [each for each in OF_THE_LINK if each.name not in named]
probing.installed = lambda: iter(found)  # before the commands take it from there

if __name__ == "__main__":
    from netcheck.cli import run

    run()
