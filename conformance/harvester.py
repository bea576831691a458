"""A harvester of OAI-PMH 2.0, written from the protocol alone, with Python's own XML library.

It keeps copies of what a repository has. Its one argument is the repository's base URL. Each line of
standard input is a JSON object that tells it to bring a copy up to date and, if there is "expect", to
compare it; the answer is a line, too:

    {"copy": name, "verb": "ListRecords" or "ListIdentifiers", "prefix": metadataPrefix, "set": setSpec or "",
     "day": whether to go on by whole days, "post": whether to ask by POST,
     "expect": {identifier: {"datestamp": ..., "metadata": XML}}}
    {"requests": n, "records": n, "deleted": n, "full": whether it was a whole harvest, "faults": [text]}
"""

import gzip
import json
import sys
import urllib.parse
import urllib.request
import xml.etree.ElementTree as ET

OAI = "{http://www.openarchives.org/OAI/2.0/}"


class Fault(Exception):
    pass


def plain(element):
    """What an element says: names with their namespaces, attributes in any order, text, children."""
    return (
        element.tag,
        sorted(element.attrib.items()),
        (element.text or "") if len(element) == 0 else (element.text or "").strip(),
        [(plain(child), (child.tail or "").strip()) for child in element],
    )


class Copy:
    def __init__(self):
        self.since = None
        self.has = {}

    def ask(self, base, post, **arguments):
        data = urllib.parse.urlencode(arguments)
        request = urllib.request.Request(base, data.encode()) if post else urllib.request.Request(base + "?" + data)
        request.add_header("Accept-Encoding", "gzip")
        with urllib.request.urlopen(request, timeout=60) as answer:
            body = answer.read()
            if answer.headers.get("Content-Encoding") == "gzip":
                body = gzip.decompress(body)
        root = ET.fromstring(body)
        if root.tag != OAI + "OAI-PMH":
            raise Fault("the root is " + root.tag)
        return root

    def update(self, base, job):
        count = {"requests": 0, "records": 0, "deleted": 0, "full": self.since is None}
        verb = job["verb"]
        arguments = {"metadataPrefix": job["prefix"]}
        if job["set"]:
            arguments["set"] = job["set"]
        if self.since is not None:
            arguments["from"] = self.since[:10] if job["day"] else self.since
        since = None
        while arguments:
            root = self.ask(base, job["post"], verb=verb, **arguments)
            count["requests"] += 1
            if since is None:
                since = root.findtext(OAI + "responseDate")
            arguments = None
            errors = [e.get("code") for e in root.findall(OAI + "error")]
            if errors == ["noRecordsMatch"] and count["requests"] == 1:
                break
            if errors:
                raise Fault("errors: %s" % errors)
            part = root.find(OAI + verb)
            for item in part:
                if item.tag == OAI + "resumptionToken":
                    if item.text:
                        arguments = {"resumptionToken": item.text}
                    continue
                header = item if verb == "ListIdentifiers" else item.find(OAI + "header")
                name = header.findtext(OAI + "identifier")
                self.has.pop(name, None)
                if header.get("status") == "deleted":
                    count["deleted"] += 1
                    if item.find(OAI + "metadata") is not None:
                        raise Fault(name + " is deleted and has metadata")
                    continue
                count["records"] += 1
                held = {"datestamp": header.findtext(OAI + "datestamp")}
                if verb == "ListRecords":
                    (held["metadata"],) = [plain(m) for m in item.find(OAI + "metadata")]
                self.has[name] = held
        self.since = since
        return count

    def compare(self, expect, verb):
        faults = []
        for name in sorted(set(self.has) | set(expect)):
            if name not in self.has:
                faults.append(name + " is missing")
            elif name not in expect:
                faults.append(name + " should be gone")
            elif self.has[name]["datestamp"] != expect[name]["datestamp"]:
                faults.append("%s: of %s, should be of %s" % (name, self.has[name]["datestamp"], expect[name]["datestamp"]))
            elif verb == "ListRecords" and self.has[name]["metadata"] != plain(ET.fromstring(expect[name]["metadata"])):
                faults.append(name + " says something else")
        return faults


def main():
    base, copies = sys.argv[1], {}
    for line in sys.stdin:
        job = json.loads(line)
        copy = copies.setdefault(job["copy"], Copy())
        try:
            answer = copy.update(base, job)
            answer["faults"] = copy.compare(job["expect"], job["verb"]) if job.get("expect") is not None else []
        except (Fault, ET.ParseError, OSError, AttributeError, ValueError) as e:
            answer = {"requests": 0, "records": 0, "deleted": 0, "full": False, "faults": ["%s: %s" % (type(e).__name__, e)]}
        print(json.dumps(answer), flush=True)


main()
