"""Print each cue as its devices give it: a program that listens to Tocsin, to build your own on (a pager, a dashboard).

    python cue_log.py "$(tocsin board --address watch)"

Every event is one JSON object, a line of the run's journal as it is written. Keys may be added: ignore those you do not
know. It only listens; no cue stops a robot, none allows anybody onto the field.
"""

import json
import sys
import time
import urllib.request


def events(address: str):
    """Yield (kind, object) of each event, connecting again whenever the line breaks; ends when the token is refused."""
    base, token = address.strip().split("#t=")
    last = ""
    while True:
        headers = {"Authorization": f"Bearer {token}"} | ({"Last-Event-ID": last} if last else {})
        try:
            request = urllib.request.Request(f"{base}api/1/events", headers=headers)
            with urllib.request.urlopen(request, timeout=6) as lines:
                for line in lines:
                    field, _, value = line.decode().rstrip("\r\n").partition(": ")
                    if field == "id":
                        last = value
                    elif field == "event":
                        kind = value
                    elif field == "data":          # always one line here
                        yield kind, json.loads(value)
        except OSError as error:                   # nothing heard for 6 s, or the program was started anew
            if getattr(error, "code", 0) in (401, 403):
                sys.exit("the address is not valid any more: ask the laptop for a new one")
        time.sleep(0.5)


for kind, told in events(sys.argv[1]):
    if kind == "record" and told["kind"] == "firing" and told["outcome"] == "played":
        print(f"{told['cue']} on {told['channel']}, {told['late_ns'] / 1e6:.1f} ms late", flush=True)
