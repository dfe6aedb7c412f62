"""A structural lint of PDF/A-3u files (ISO 19005-3:2012; clauses from memory).

It is no validator: the reference checkers of PDF/A run on Java and are not among our
tests' tools. It looks for what is known to go wrong in files such as ours.
"""

import io
import re

import pikepdf
from lxml import etree

NS = {
    "rdf": "http://www.w3.org/1999/02/22-rdf-syntax-ns#",
    "dc": "http://purl.org/dc/elements/1.1/",
    "xmp": "http://ns.adobe.com/xap/1.0/",
    "pdf": "http://ns.adobe.com/pdf/1.3/",
    "pdfaid": "http://www.aiim.org/pdfa/ns/id/",
    "fx": "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#",
    "ext": "http://www.aiim.org/pdfa/ns/extension/",
    "schema": "http://www.aiim.org/pdfa/ns/schema#",
    "property": "http://www.aiim.org/pdfa/ns/property#",
}
FX = {
    "DocumentType": "INVOICE",
    "DocumentFileName": "factur-x.xml",
    "Version": "1.0",
    "ConformanceLevel": "EN 16931",
}


def lint(content, *, carries_invoice):
    """What is wrong with the file, one sentence each; empty for a good one."""
    faults = list(_head(content))
    with pikepdf.open(io.BytesIO(content)) as file:
        xmp = file.Root.Metadata.read_bytes()
        faults += _root(file)
        faults += _metadata(file, xmp)
        faults += _fonts(file)
        faults += _pages(file)
        faults += _attached(file, xmp) if carries_invoice else _alone(file)
    return faults


def _head(content):
    if not content.startswith(b"%PDF-1.7\n%"):
        yield "6.1.2: the header is not that of PDF 1.7 with a comment"
    elif sum(byte > 127 for byte in content[10:14]) != 4:
        yield "6.1.2: the comment after the header has not four bytes above 127"
    if not content.rstrip(b"\r\n").endswith(b"%%EOF"):
        yield "6.1.3: data stands after the end of the file"


def _root(file):
    if len(file.trailer.get("/ID", [])) != 2:
        yield "6.1.3: no /ID"
    if "/Encrypt" in file.trailer:
        yield "6.1.3: encrypted"
    intents = [i for i in file.Root.get("/OutputIntents", []) if i.S == "/GTS_PDFA1"]
    if len(intents) != 1:
        yield "6.2.3: not one output intent for PDF/A"
    elif bytes(intents[0].DestOutputProfile.read_bytes()[36:40]) != b"acsp":
        yield "6.2.3: the output intent has no ICC profile"
    elif intents[0].DestOutputProfile.N != 3:
        yield "6.2.3: the profile is not of three components"
    for banned in ("/AA", "/OCProperties", "/Requirements"):
        if banned in file.Root:
            yield f"6.5/6.9: {banned} in the catalogue"
    if "/JavaScript" in file.Root.get("/Names", {}):
        yield "6.6.1: JavaScript"
    if not file.Root.get("/MarkInfo", {}).get("/Marked"):
        yield "not tagged, which we promise"


def _metadata(file, xmp):
    if "/Filter" in file.Root.Metadata:
        yield "the metadata is packed, which we promise it is not"
    tree = etree.fromstring(re.sub(rb"<\?xpacket.*?\?>", b"", xmp, flags=re.S))
    roots = tree.findall("rdf:RDF", NS)
    if len(roots) != 1:
        yield f"6.6.2: {len(roots)} rdf:RDF"
    (rdf, *_) = roots
    said = {
        key: rdf.findall(f"rdf:Description[@pdfaid:{key}]", NS)
        for key in ("part", "conformance")
    }
    part = [d.get(f"{{{NS['pdfaid']}}}part") for d in said["part"]]
    level = [d.get(f"{{{NS['pdfaid']}}}conformance") for d in said["conformance"]]
    if (part, level) != (["3"], ["U"]):
        yield f"6.6.4: says PDF/A-{part}{level}"
    yield from _same_as_info(file, rdf)


def _same_as_info(file, rdf):
    def text(path):
        found = rdf.find(path, NS)
        return None if found is None else found.text

    producer = rdf.find("rdf:Description[@pdf:Producer]", NS)
    pairs = {
        "/Title": text(".//dc:title/rdf:Alt/rdf:li"),
        "/Author": text(".//dc:creator/rdf:Seq/rdf:li"),
        "/Producer": producer.get(f"{{{NS['pdf']}}}Producer"),
        "/CreationDate": _pdf_date(text(".//xmp:CreateDate")),
        "/ModDate": _pdf_date(text(".//xmp:ModifyDate")),
    }
    for key, value in pairs.items():
        info = str(file.docinfo.get(key, ""))
        if info.replace("'", "") != (value or ""):
            yield f"6.6.3: {key} is {info!r}, and in the XMP {value!r}"
    for key in set(file.docinfo.keys()) - set(pairs):
        yield f"6.6.3: {key} has no equal in the XMP"


def _pdf_date(text):
    return text and "D:" + re.sub(r"[-:T]", "", text)


def _fonts(file):
    fonts = [
        item
        for item in file.objects
        if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/Font"
    ]
    if not fonts:
        yield "no font at all"
    for font in fonts:
        name = font.get("/BaseFont")
        if font.Subtype == "/Type0":
            if "/ToUnicode" not in font:
                yield f"6.2.11.7: {name} has no ToUnicode"
            (descendant,) = font.DescendantFonts
            if "/FontFile2" not in descendant.FontDescriptor:
                yield f"6.2.11.4: {name} is not embedded"
            if "/CIDToGIDMap" not in descendant:
                yield f"6.2.11.3: {name} has no CIDToGIDMap"
        elif font.Subtype not in ("/CIDFontType2",):
            yield f"a font of kind {font.Subtype}, which ours are not"


def _pages(file):
    for number, page in enumerate(file.pages, 1):
        for note in page.get("/Annots", []):
            if note.Subtype not in ("/Link",):
                yield f"6.3: annotation {note.Subtype} on page {number}"
            if not int(note.get("/F", 0)) & 4:
                yield f"6.3.2: an annotation of page {number} is not printed"
            if note.get("/A", {}).get("/S") not in (None, "/URI", "/GoTo"):
                yield f"6.5.1: an action of page {number}"
        codes = b"".join(part for part in _streams(page))
        # A glyph 0 is the empty box: <0000> as the whole or the start of a text.
        if re.search(rb"[\[ ]<0000", codes):
            yield f"6.2.11.8: page {number} shows .notdef"


def _streams(page):
    contents = page.Contents
    parts = contents if isinstance(contents, pikepdf.Array) else [contents]
    return [part.read_bytes() for part in parts]


def _alone(file):
    if "/AF" in file.Root or "/EmbeddedFiles" in file.Root.get("/Names", {}):
        yield "a file is attached where none is to be"


def _attached(file, xmp):
    tree = etree.fromstring(re.sub(rb"<\?xpacket.*?\?>", b"", xmp, flags=re.S))
    for key, value in FX.items():
        found = tree.findall(f".//fx:{key}", NS)
        if [one.text for one in found] != [value]:
            yield f"fx:{key} is not said once as {value}"
    described = {one.text for one in tree.findall(".//property:name", NS)}
    spaces = [one.text for one in tree.findall(".//schema:namespaceURI", NS)]
    if described != set(FX) or spaces != [NS["fx"]]:
        yield "6.6.2.3: the extension schema does not describe the fx properties"
    files = list(file.Root.get("/AF", []))
    if len(files) != 1:
        yield f"6.8: {len(files)} entries in /AF"
    else:
        yield from _file(file, files[0])


def _file(file, spec):
    embedded = file.Root.Names.EmbeddedFiles.Names
    if len(embedded) != 2 or str(embedded[0]) != "factur-x.xml":
        yield "6.8: not one embedded file named factur-x.xml"
    if (str(spec.get("/F")), str(spec.get("/UF"))) != ("factur-x.xml",) * 2:
        yield "6.8: /F and /UF are not the name"
    if spec.get("/AFRelationship") != "/Alternative":
        yield "6.8: the relationship is not Alternative"
    if not str(spec.get("/Desc", "")):
        yield "no description"
    if not {"/F", "/UF"} <= set(spec.EF.keys()):
        yield "/EF lacks /F or /UF"
    stream = spec.EF.F
    if stream.get("/Subtype") != "/text/xml":
        yield f"6.8: the media type is {stream.get('/Subtype')}"
    if "/ModDate" not in stream.get("/Params", {}):
        yield "6.8: the embedded file has no date"
