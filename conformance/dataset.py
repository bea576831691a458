"""Reads the description of a dataset (VoID, DCAT 3) from a server and recomputes it from the files.

Arguments: the server's address and the base of the IRIs that it stands for. The answer is one JSON object:
{"faults": [text], "counts": {name: n}}. RDF is read by rdflib; files are unpacked by gzip and zstd, and
their checksums compared by sha256sum.
"""

import gzip
import json
import logging
import os
import re
import subprocess
import sys
import tempfile
import urllib.request
import xml.etree.ElementTree as ET

import rdflib
from rdflib.compare import isomorphic
from rdflib.namespace import DCTERMS, FOAF, RDF, XSD

logging.disable(logging.CRITICAL)
VOID = rdflib.Namespace("http://rdfs.org/ns/void#")
DCAT = rdflib.Namespace("http://www.w3.org/ns/dcat#")
SPDX = rdflib.Namespace("http://spdx.org/rdf/terms#")
SITEMAP = "{http://www.sitemaps.org/schemas/sitemap/0.9}"

address, base = sys.argv[1:3]
faults, counts = [], {}


def fault(*what):
    faults.append(" ".join(str(w) for w in what))


def get(iri, **headers):
    if not str(iri).startswith(base):
        raise ValueError("%s is not of the site" % iri)
    request = urllib.request.Request(address + str(iri)[len(base):])
    for name, value in headers.items():
        request.add_header(name.replace("_", "-"), value)
    with urllib.request.urlopen(request, timeout=60) as answer:
        return answer.read(), answer


def description():
    graphs = []
    for media, syntax in (("text/turtle", "turtle"), ("application/ld+json", "json-ld"), ("application/rdf+xml", "xml"), ("application/n-triples", "nt")):
        body, answer = get(base + ".well-known/void", Accept=media)
        if answer.headers.get_content_type() != media:
            fault("the description for", media, "is", answer.headers.get_content_type())
        graph = rdflib.Graph()
        graph.parse(data=body, format=syntax, publicID=base)
        graphs.append(graph)
        if not isomorphic(graph, graphs[0]):
            fault("the description in", media, "says something else than in Turtle")
    counts["descriptions"] = len(graphs)
    return graphs[0]


def one(graph, subject, predicate):
    values = list(graph.objects(subject, predicate))
    if len(values) != 1:
        fault(subject, "has", len(values), "values of", predicate)
        return None
    return values[0]


def fetched(graph, dataset, folder):
    """Fetches every file, in two parts, and checks what is said of it."""
    names, sums = {}, []
    counts["files"] = counts["ranges"] = 0
    for d in graph.objects(dataset, DCAT.distribution):
        if (d, RDF.type, DCAT.Distribution) not in graph:
            fault(d, "is no dcat:Distribution")
        for required in (DCTERMS.title, DCAT.accessURL, DCAT.mediaType, DCTERMS.license, DCTERMS.modified):
            one(graph, d, required)
        url, size = one(graph, d, DCAT.downloadURL), one(graph, d, DCAT.byteSize)
        checksum = one(graph, d, SPDX.checksum)
        if size.datatype != XSD.nonNegativeInteger or one(graph, checksum, SPDX.algorithm) != SPDX.checksumAlgorithm_sha256:
            fault(d, size.n3(), "or the checksum's algorithm is not as DCAT has it")
        name = str(url).rsplit("/", 1)[1]
        # As after a break: the first part, then the rest if the file is still the same.
        whole, answer = get(url)
        half = len(whole) // 2
        first, part = get(url, Range="bytes=0-%d" % (half - 1))
        rest, part2 = get(url, Range="bytes=%d-" % half, If_Range=part.headers["ETag"])
        counts["ranges"] += (part.status == 206) + (part2.status == 206)
        if first + rest != whole or part2.headers["Content-Range"] != "bytes %d-%d/%d" % (half, len(whole) - 1, len(whole)):
            fault(name, "taken in two parts is another file")
        if len(whole) != int(size):
            fault(name, "has", len(whole), "bytes, not", size)
        if answer.headers.get_content_type() != str(next(graph.objects(d, DCAT.compressFormat), one(graph, d, DCAT.mediaType))).split("media-types/")[1]:
            fault(name, "is sent as", answer.headers.get_content_type())
        path = os.path.join(folder, name)
        with open(path, "wb") as f:
            f.write(whole)
        sums.append("%s  %s\n" % (one(graph, checksum, SPDX.checksumValue), name))
        names[name] = path
        counts["files"] += 1
    listed = get(base + "downloads/SHA256SUMS")[0].decode()
    for text in ("".join(sums), "".join(l + "\n" for l in listed.splitlines() if l.split("  ")[1] in names)):
        check = subprocess.run(["sha256sum", "-c", "--strict", "--quiet"], input=text, cwd=folder, text=True, capture_output=True)
        if check.returncode or text.count("\n") != len(names):
            fault("sha256sum:", check.stdout, check.stderr, text.count("\n"), "lines")
    return names


def unpacked(names):
    out = {}
    for name, path in sorted(names.items()):
        stem, packing = os.path.splitext(name)
        if packing == ".gz":
            with gzip.open(path) as f:
                data = f.read()
        else:
            data = subprocess.run(["zstd", "-dqc", path], capture_output=True, check=True).stdout
        if out.setdefault(stem, data) != data:
            fault(stem, "is another in zstd than in gzip")
    return out


def recount(graph, dataset, texts):
    triples = rdflib.Graph()
    triples.parse(data=texts["records.nt"], format="nt")
    documents = [json.loads(line)["id"] for line in texts["records.jsonl"].splitlines()]
    properties, classes = {}, {}
    for s, p, o in triples:
        properties[p] = properties.get(p, 0) + 1
        if p == RDF.type:
            classes[o] = classes.get(o, 0) + 1
    for predicate, n in (
        (VOID.triples, len(triples)),
        (VOID.documents, len(set(documents))),
        (VOID.entities, len(set(documents))),
        (VOID.distinctSubjects, len(set(triples.subjects()))),
        (VOID.properties, len(properties)),
        (VOID.classes, len(classes)),
    ):
        said = one(graph, dataset, predicate)
        if said is None or said.value != n or said.datatype != XSD.integer:
            fault(predicate, "is said to be", said, "and is", n)
    counts["partitions"] = 0
    for link, what, number, real in ((VOID.propertyPartition, VOID.property, VOID.triples, properties), (VOID.classPartition, VOID["class"], VOID.entities, classes)):
        said = {}
        for part in graph.objects(dataset, link):
            said[one(graph, part, what)] = one(graph, part, number).value
        counts["partitions"] += len(said)
        if said != real:
            fault(link, {k: (said.get(k), real.get(k)) for k in set(said) | set(real) if said.get(k) != real.get(k)})
    turtle = rdflib.Graph()
    turtle.parse(data=texts["records.ttl"], format="turtle")
    if set(turtle) != set(triples):
        fault("Turtle and N-Triples differ in", len(set(turtle) ^ set(triples)), "triples")
    quads = set()
    for line in texts["records.nq"].decode().splitlines():
        quads.add(re.sub(r" <[^<> ]*> \.$", " .", line))
    if quads != set(texts["records.nt"].decode().splitlines()):
        fault("N-Quads and N-Triples differ in", len(quads ^ set(texts["records.nt"].decode().splitlines())), "lines")
    lido = ET.fromstring(texts["records.lido.xml"])
    counts.update(triples=len(triples), documents=len(documents), jsonld=len(documents), lido=len(lido))
    return set(documents)


def sitemaps(documents):
    day = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ$")
    robots = get(base + "robots.txt")[0].decode()
    index = re.findall(r"(?m)^Sitemap: (\S+)$", robots)
    if index != [base + "sitemap.xml"]:
        fault("robots.txt names", index)
    seen = []
    root = ET.fromstring(get(index[0])[0])
    if root.tag != SITEMAP + "sitemapindex" or len(root) > 50000:
        fault("the index of sitemaps is", root.tag, len(root))
    for entry in root:
        if entry.tag != SITEMAP + "sitemap" or not day.match(entry.findtext(SITEMAP + "lastmod", "")):
            fault("sitemap index:", ET.tostring(entry))
        data = gzip.decompress(get(entry.findtext(SITEMAP + "loc"))[0])
        urls = ET.fromstring(data)
        if urls.tag != SITEMAP + "urlset" or not 0 < len(urls) <= 50000 or len(data) > 50 << 20:
            fault("a sitemap is", urls.tag, "of", len(urls), "addresses and", len(data), "bytes")
        latest = ""
        for u in urls:
            loc, modified = u.findtext(SITEMAP + "loc"), u.findtext(SITEMAP + "lastmod", "")
            if u.tag != SITEMAP + "url" or not day.match(modified) or not loc.startswith(base) or len(loc) >= 2048:
                fault("sitemap:", ET.tostring(u))
            latest = max(latest, modified)
            seen.append(loc)
        if latest != entry.findtext(SITEMAP + "lastmod"):
            fault("the index says", entry.findtext(SITEMAP + "lastmod"), "of a sitemap of", latest)
    counts["urls"] = len(seen)
    if len(seen) != len(set(seen)) or set(seen) != documents | {base}:
        fault("sitemaps and documents differ:", sorted(set(seen) ^ (documents | {base}))[:5])


def main():
    graph = description()
    dataset = rdflib.URIRef(base)
    for kind in (VOID.Dataset, DCAT.Dataset):
        if (dataset, RDF.type, kind) not in graph:
            fault("the dataset is no", kind)
    for required in (DCTERMS.title, DCTERMS.description, DCTERMS.publisher, DCTERMS.license, DCTERMS.modified, FOAF.homepage, VOID.uriSpace):
        one(graph, dataset, required)
    dumps = set(graph.objects(dataset, VOID.dataDump))
    downloads = {o for d in graph.objects(dataset, DCAT.distribution) for o in graph.objects(d, DCAT.downloadURL)}
    if not dumps or not dumps <= downloads or not list(graph.objects(dataset, VOID.feature)) or not list(graph.objects(dataset, VOID.vocabulary)):
        fault("dumps, features or vocabularies are missing")
    if not list(graph.subjects(RDF.type, VOID.DatasetDescription)) or len(list(graph.subjects(RDF.type, DCAT.DataService))) < 2:
        fault("the description does not describe itself, or names no services")
    for service in graph.subjects(RDF.type, DCAT.DataService):
        one(graph, service, DCAT.endpointURL)
        if one(graph, service, DCAT.servesDataset) != dataset:
            fault(service, "serves another dataset")
    with tempfile.TemporaryDirectory() as folder:
        texts = unpacked(fetched(graph, dataset, folder))
    sitemaps(recount(graph, dataset, texts))
    print(json.dumps({"faults": faults, "counts": counts}))


main()
