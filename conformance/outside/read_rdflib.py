"""Reads RDF with rdflib and answers in N-Quads: see reader.go for the protocol."""

import logging
import re
import sys

import rdflib
from rdflib.graph import ConjunctiveGraph
from rdflib.term import BNode, Literal, URIRef

logging.disable(logging.CRITICAL)
rdflib.NORMALIZE_LITERALS = False  # keep "01" as it is written

FORMATS = {"ntriples": "nt", "nquads": "nquads", "turtle": "turtle", "rdfxml": "xml"}
IN_IRI = re.compile(r'[\x00-\x20<>"{}|^`\\]')
IN_STRING = re.compile(r'[\x00-\x1f"\\\x7f]')
XSD_STRING = "http://www.w3.org/2001/XMLSchema#string"


def escaped(match):
    return "\\u%04X" % ord(match.group())


def term(t):
    if isinstance(t, URIRef):
        return "<%s>" % IN_IRI.sub(escaped, t)
    if isinstance(t, BNode):
        return "_:%s" % t
    if isinstance(t, Literal):
        text = '"%s"' % IN_STRING.sub(escaped, t)
        if t.language:
            return "%s@%s" % (text, t.language)
        return "%s^^<%s>" % (text, t.datatype or XSD_STRING)
    raise ValueError("term of kind %s" % type(t).__name__)


def answer(syntax, base, body):
    if syntax == "nquads":
        store = ConjunctiveGraph()
        unnamed = "urn:x-unnamed"  # what rdflib is to call the default graph
        store.parse(data=body, format="nquads", publicID=unnamed)
        out = []
        for s, p, o, g in store.quads((None, None, None, None)):
            name = getattr(g, "identifier", g)
            line = [term(s), term(p), term(o)]
            if str(name) != unnamed:
                line.append(term(name))
            out.append(" ".join(line) + " .\n")
        return "".join(out)
    graph = rdflib.Graph()
    graph.parse(data=body, format=FORMATS[syntax], publicID=base)
    return "".join("%s %s %s .\n" % (term(s), term(p), term(o)) for s, p, o in graph)


def main():
    requests, answers = sys.stdin.buffer, sys.stdout.buffer
    for head in iter(requests.readline, b""):
        syntax, base, length = head.decode("utf-8").split()
        body = requests.read(int(length))
        try:
            status, out = "ok", answer(syntax, base, body)
        except Exception as e:  # whatever a reader trips over is an answer
            status, out = "error", "%s: %s" % (type(e).__name__, e)
        text = out.encode("utf-8", "surrogatepass")
        answers.write(("%s %d\n" % (status, len(text))).encode() + text)
        answers.flush()


main()
