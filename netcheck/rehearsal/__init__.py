"""The simulated site behind `netcheck rehearse`: two printers and a spooler on loopback, real protocols.

Stage: none. It stands where the world stands, on the far side of the probes, and shares no codec with them: SNMP comes
from pysnmp, HTTP from aiohttp, IPP from a small encoder of its own. A mistake in a probe's decoder therefore meets an
answer that was not made by the same hand.

`scenarios` is cheap to import; the protocol libraries are imported when a `site.Site` starts.
"""
