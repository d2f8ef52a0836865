#!/bin/sh
# The print command of ippeveprinter (its manual: STATE and ATTR): says what stands in $REASONS, and counts a page.
echo "STATE: $(cat "$REASONS")" >&2
echo "ATTR: job-impressions=1 job-impressions-completed=1" >&2
