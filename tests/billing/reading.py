"""Our PDFs read by others: factur-x takes the XML out and reads it, pypdf the page."""

import io
import logging
import re
from datetime import date
from decimal import Decimal

import facturx
import pypdf

# pypdf writes a note into the log for each font that it reads with care.
logging.getLogger("pypdf").setLevel(logging.ERROR)


def page_text(content):
    """What the pages say, without any blanks: where a line breaks is not ours to say,
    and letters that stand close or wide are told apart by readers differently."""
    reader = pypdf.PdfReader(io.BytesIO(content))
    return squeezed("".join(page.extract_text() for page in reader.pages))


def squeezed(text):
    return re.sub(r"[\s\u00a0\u202f\u00ad]+", "", text)


def xml_of(content):
    """The attached e-invoice, its schema checked; None where there is none."""
    name, xml = facturx.get_xml_from_pdf(content, check_xsd=True)
    assert name in (None, "factur-x.xml")
    return xml or None


def told(content):
    """The e-invoice by business terms, as factur-x's own reader has them."""
    return facturx.parse_ubl_cii_xml(xml_of(content), check_xsd=False)


def same_as_database(invoice, content):
    """Asserts that number, dates, parties, totals, tax and lines that an independent
    reader finds in the PDF are those of the database's rows."""
    found = told(content)

    def figure(key, group=found):
        return Decimal(group.get(key, "0"))

    assert found["BT-1"] == invoice.number
    assert found["BT-3"] == invoice.kind
    assert found["BT-2"] == invoice.issue_day
    assert found["BT-5"] == invoice.currency
    if invoice.kind != "381":
        assert found["BT-9"] == invoice.due_day
    else:
        named = b"<ram:IssuerAssignedID>%s<" % invoice.corrects.number.encode()
        assert named in xml_of(content)
    assert found["BG-7"]["name"] == invoice.client.name
    assert found["BG-4"]["name"] == invoice.snapshot["seller"]["legal_name"]
    assert figure("BT-106") == invoice.line_total
    assert figure("BT-110") == invoice.tax_total
    assert figure("BT-112") == invoice.total
    assert figure("BT-114") == invoice.rounding
    assert figure("BT-115") == invoice.due
    lines = list(invoice.lines.order_by("position"))
    assert len(found["BG-25"]) == len(lines)
    for row, line in zip(found["BG-25"], lines, strict=True):
        assert row["BT-153"] == line.name
        assert figure("BT-131", row) == line.net
        assert figure("BT-129", row) == line.quantity
        assert row["BT-151"] == line.tax_category
        assert figure("BT-152", row) == (line.tax_percent or 0)
        assert row.get("BT-134") == line.service_day
    return found


def on_the_page(content, w):
    """Asserts that every figure of the attached XML stands on the page as well, written
    as the document's language ``w`` writes it. The number of figures compared."""
    text, found = page_text(content), told(content)
    currency = found["BT-5"]
    said = [found["BT-1"], found["BG-4"]["name"], found["BG-7"]["name"]]
    # The credit note's date of payment is its own day, which the page says once.
    days = ["BT-2"] if found["BT-3"] == "381" else ["BT-2", "BT-9"]
    said += [w.day(found[key]) for key in days]
    money = [
        found[key]
        for key in ("BT-109", "BT-110", "BT-115", "BT-113", "BT-114", "BT-112")
        if key in found and not (key == "BT-112" and "BT-114" not in found)
    ]
    for group in found["BG-23"]:
        money += [group["BT-116"], group["BT-117"]]
        if group.get("BT-119"):
            said.append(w.percent(Decimal(group["BT-119"])))
        said += [group[key] for key in ("BT-120",) if key in group]
    for line in found["BG-25"]:
        said.append(line["BT-153"])
        money.append(line["BT-131"])
        if Decimal(line["BT-129"]) != 1:
            said.append(w.number(Decimal(line["BT-129"])))
        if isinstance(line.get("BT-134"), date) and len(found["BG-25"]) == 1:
            said.append(w.day(line["BT-134"]))
    for part in (*found.get("BG-20", ()), *found.get("BG-21", ())):
        money.append(part["amount"])
    said += [w.money(abs(Decimal(amount)), currency) for amount in money]
    for what in said:
        assert squeezed(what) in text, what
    return len(said)
