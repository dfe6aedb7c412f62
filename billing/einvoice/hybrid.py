"""What the PDF says of the XML that it carries (Factur-X 1.09, ZUGFeRD 2.x).

Names and values are those of the specification's XMP extension schema; a PDF/A must
describe a schema that isn't its own (ISO 19005-3, 6.6.2.3).
"""

FILE_NAME = "factur-x.xml"
SPACE = "urn:factur-x:pdfa:CrossIndustryDocument:invoice:1p0#"
_SAID = {
    "DocumentType": ("INVOICE", "The type of the attached document"),
    "DocumentFileName": (FILE_NAME, "The name of the attached file"),
    "Version": ("1.0", "The version of the attached document's standard"),
    "ConformanceLevel": ("EN 16931", "The profile of the attached document"),
}


def xmp() -> str:
    """The ``rdf:Description`` elements to put into the XMP of the PDF."""
    values = "".join(
        f"<fx:{name}>{said}</fx:{name}>" for name, (said, _) in _SAID.items()
    )
    described = "".join(
        '<rdf:li rdf:parseType="Resource">'
        f"<pdfaProperty:name>{name}</pdfaProperty:name>"
        "<pdfaProperty:valueType>Text</pdfaProperty:valueType>"
        "<pdfaProperty:category>external</pdfaProperty:category>"
        f"<pdfaProperty:description>{meaning}</pdfaProperty:description></rdf:li>"
        for name, (_, meaning) in _SAID.items()
    )
    return (
        f'<rdf:Description rdf:about="" xmlns:fx="{SPACE}">{values}</rdf:Description>'
        '<rdf:Description rdf:about="" '
        'xmlns:pdfaExtension="http://www.aiim.org/pdfa/ns/extension/" '
        'xmlns:pdfaSchema="http://www.aiim.org/pdfa/ns/schema#" '
        'xmlns:pdfaProperty="http://www.aiim.org/pdfa/ns/property#">'
        '<pdfaExtension:schemas><rdf:Bag><rdf:li rdf:parseType="Resource">'
        "<pdfaSchema:schema>Factur-X PDFA Extension Schema</pdfaSchema:schema>"
        f"<pdfaSchema:namespaceURI>{SPACE}</pdfaSchema:namespaceURI>"
        "<pdfaSchema:prefix>fx</pdfaSchema:prefix>"
        f"<pdfaSchema:property><rdf:Seq>{described}</rdf:Seq></pdfaSchema:property>"
        "</rdf:li></rdf:Bag></pdfaExtension:schemas></rdf:Description>"
    )
