"""Finding printers: what was seen in several ways becomes one row a physical device. Stage: between the probes' facts
and the page of ``netcheck find``; pure.

    network: what may be scanned, and whom that asks
    observations → sightings (`sighting`) → devices (`merging`) → the document ``netcheck/found/1`` (`document`)
"""
