"""Statements read and matched: formats, traps, and the order of matching."""

from contextlib import suppress
from datetime import date
from decimal import Decimal

import pytest
from hypothesis import given
from hypothesis import strategies as st

from billing.bank import camt, mt940, ofx, sheet
from billing.bank.lines import BadStatement, StatementLine, keyed
from billing.bank.matching import Matcher, OpenDocument, Payer
from billing.references import rf_of

D = Decimal
DAY = date(2026, 11, 20)

CAMT = """<?xml version="1.0" encoding="UTF-8"?>
<Document xmlns="urn:iso:std:iso:20022:tech:xsd:camt.053.001.02"><BkToCstmrStmt><Stmt>
<Acct><Id><IBAN>DE02120300000000202051</IBAN></Id><Ccy>EUR</Ccy></Acct>
<Bal><Tp><CdOrPrtry><Cd>OPBD</Cd></CdOrPrtry></Tp><Amt Ccy="EUR">10.00</Amt><CdtDbtInd>CRDT</CdtDbtInd></Bal>
<Bal><Tp><CdOrPrtry><Cd>CLBD</Cd></CdOrPrtry></Tp><Amt Ccy="EUR">105.00</Amt><CdtDbtInd>CRDT</CdtDbtInd></Bal>
<Ntry><Amt Ccy="EUR">100.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts>BOOK</Sts>
 <BookgDt><Dt>2026-11-20</Dt></BookgDt><AcctSvcrRef>B1</AcctSvcrRef><NtryDtls>
 <TxDtls><Refs><EndToEndId>E1</EndToEndId></Refs><AmtDtls><TxAmt><Amt Ccy="EUR">60.00</Amt></TxAmt></AmtDtls>
  <RltdPties><Dbtr><Nm>Ada Reiter</Nm></Dbtr></RltdPties><RmtInf><Ustrd>one</Ustrd></RmtInf></TxDtls>
 <TxDtls><Refs><EndToEndId>E2</EndToEndId></Refs><AmtDtls><TxAmt><Amt Ccy="EUR">40.00</Amt></TxAmt></AmtDtls>
  <RltdPties><Dbtr><Nm>Ben Stall</Nm></Dbtr></RltdPties><RmtInf><Ustrd>two</Ustrd></RmtInf></TxDtls>
 </NtryDtls></Ntry>
<Ntry><Amt Ccy="EUR">5.00</Amt><CdtDbtInd>DBIT</CdtDbtInd><Sts>BOOK</Sts><BookgDt><Dt>2026-11-20</Dt></BookgDt></Ntry>
<Ntry><Amt Ccy="EUR">9.00</Amt><CdtDbtInd>CRDT</CdtDbtInd><Sts>PDNG</Sts><BookgDt><Dt>2026-11-20</Dt></BookgDt></Ntry>
</Stmt></BkToCstmrStmt></Document>"""

OFX = """OFXHEADER:100
DATA:OFXSGML

<OFX><BANKMSGSRSV1><STMTTRNRS><STMTRS><CURDEF>USD<BANKACCTFROM><BANKID>1<ACCTID>778899</BANKACCTFROM>
<BANKTRANLIST><STMTTRN><TRNTYPE>CREDIT<DTPOSTED>20261120120000[-5:EST]<TRNAMT>86.40<FITID>F1<NAME>Ada &amp; Ben<MEMO>INV-00001
</STMTTRN><STMTTRN><TRNTYPE>DEBIT<DTPOSTED>20261121<TRNAMT>-12.00<FITID>F2<NAME>Bank</STMTTRN></BANKTRANLIST></STMTRS></STMTTRNRS></BANKMSGSRSV1></OFX>"""


# ---- Formats ----------------------------------------------------------------------
def test_a_collected_entry_is_taken_apart_and_what_is_pending_left_out():
    (one,) = camt.read(CAMT.encode())
    assert [(line.amount, line.payer_name) for line in one.lines] == [
        (D("60.00"), "Ada Reiter"),
        (D("40.00"), "Ben Stall"),
        (D("-5.00"), ""),
    ]
    assert one.adds_up is True
    assert [line.reference for line in one.lines] == ["E1", "E2", ""]


@pytest.mark.parametrize(
    "data",
    [
        b"",
        b"<Document/>",
        b"no xml",
        b'<!DOCTYPE d [<!ENTITY e SYSTEM "file:///etc/passwd">]><Document>&e;</Document>',
        CAMT.replace("100.00", "NaN").encode(),
        CAMT.replace("<Dt>2026-11-20</Dt>", "").encode(),
    ],
)
def test_what_is_no_camt_is_refused_with_a_sentence(data):
    with pytest.raises(BadStatement, match=r"\.$"):
        camt.read(data)


def test_an_entity_is_never_opened(tmp_path):
    secret = tmp_path / "secret"
    secret.write_text("hammer")
    data = f'<!DOCTYPE D [<!ENTITY e SYSTEM "file://{secret}">]>' + CAMT.partition(
        "?>"
    )[2].strip().replace("one", "&e;")
    with pytest.raises(BadStatement, match="document type"):
        camt.read(data.encode())


def test_a_line_that_cannot_be_read_is_not_in_the_log(caplog):
    """It says who paid, and for what; the library would write it out."""
    with pytest.raises(BadStatement):
        mt940.read(b":20:X\n:25:Y\n:61:Ada Reiter, for Rollo\n")
    assert "Reiter" not in caplog.text


@pytest.mark.parametrize("data", [b"", b"nothing"])
def test_junk_is_no_mt940(data):
    with pytest.raises(BadStatement, match=r"\.$"):
        mt940.read(data)


def test_ofx_of_version_one():
    (one,) = ofx.read(OFX.encode())
    first, second = one.lines
    assert (first.account, first.day, first.amount) == ("778899", DAY, D("86.40"))
    assert (first.payer_name, first.text) == ("Ada & Ben", "INV-00001")
    assert (first.reference, first.currency) == ("F1", "USD")
    assert second.amount == -12


@pytest.mark.parametrize(
    "data", [b"", b"<OFX></OFX>", OFX.replace("86.40", "x").encode()]
)
def test_what_is_no_ofx_is_refused(data):
    with pytest.raises(BadStatement, match=r"\.$"):
        ofx.read(data)


CSV = {
    "GB": (
        "Date,Description,Paid in,Paid out,Balance\n"
        "20/11/2026,INV-00001 A REITER,114.00,,214.00\n"
        "21/11/2026,FUEL,,60.50,153.50\n"
        ",,,,\n"
    ),
    "DE": (
        "Umsätze;;;\nBuchungstag;Verwendungszweck;Auftraggeber;Betrag\n"
        "20.11.2026;INV-00001;Ada Reiter;1.114,00\n"
        "21.11.2026;Nägel;Händler;-60,50\n"
    ),
}


def read_csv(text, country):
    found = sheet.open_sheet(text.encode())
    return sheet.read(
        found,
        sheet.propose(found.heading),
        account="1",
        currency="EUR",
        decimals=2,
        country=country,
    )


@pytest.mark.parametrize(("country", "first"), [("GB", "114.00"), ("DE", "1114.00")])
def test_csv_by_its_headings(country, first):
    one, faults = read_csv(CSV[country], country)
    assert faults == []
    assert [line.day for line in one.lines] == [DAY, date(2026, 11, 21)]
    assert [line.amount for line in one.lines] == [D(first), D("-60.50")]
    assert "INV-00001" in one.lines[0].text


def test_a_row_of_csv_that_can_not_be_taken_is_named():
    text = CSV["GB"] + "soon,SOMETHING,1.00,,\n22/11/2026,OTHER,many,,\n"
    one, faults = read_csv(text, "GB")
    assert len(one.lines) == 2
    assert [fault.line for fault in faults] == [5, 6]


def test_the_same_bank_is_known_again_by_its_heading():
    first, again = (sheet.open_sheet(CSV["GB"].encode()) for _ in range(2))
    other = sheet.open_sheet(CSV["DE"].encode())
    assert first.heading_sha256 == again.heading_sha256 != other.heading_sha256


@given(st.binary(max_size=200) | st.text(max_size=200).map(str.encode))
def test_no_junk_ends_in_a_fault(data):
    for read in (camt.read, mt940.read, ofx.read, sheet.open_sheet):
        with suppress(BadStatement):
            assert read(data)


# ---- Keys -------------------------------------------------------------------------
def line(amount="114.00", **over):
    told = {"account": "DE1", "day": DAY, "currency": "GBP", **over}
    return StatementLine(amount=D(amount), **told)


def test_two_equal_lines_of_one_day_are_two_and_the_same_ones_again():
    lines = [line(text="a"), line(text="a"), line(text="b")]
    keys = [key for key, _ in keyed(lines)]
    assert len(set(keys)) == 3
    assert [key for key, _ in keyed(lines)] == keys
    # an overlapping file of the same days
    assert [key for key, _ in keyed(lines[:2])] == keys[:2]


# ---- Matching ---------------------------------------------------------------------
DOCUMENTS = [
    OpenDocument("INV-00001", 1, D("114.00"), "GBP"),
    OpenDocument("INV-00002", 1, D("50.00"), "GBP"),
    OpenDocument("INV-00003", 2, D("80.00"), "GBP"),
]
PAYERS = [Payer(1, "Elspeth Rae"), Payer(2, "Fergus Boyd"), Payer(3, "Iona Kerr")]


@pytest.fixture
def matcher():
    return Matcher(DOCUMENTS, PAYERS, {"GB29 NWBK 6016 1331 9268 19": 2})


@pytest.mark.parametrize(
    ("over", "amount", "expected"),
    [
        # an RF reference is enough, whoever pays
        ({"text": rf_of("INV-00001"), "payer_name": "X"}, "114.00", ("rf", 1, True)),
        ({"text": f"/{rf_of('INV-00001')}/"}, "100.00", ("rf", 1, True)),
        # more than is open is for a person
        ({"text": rf_of("INV-00001")}, "114.01", ("rf", 1, False)),
        # a number needs the payer
        ({"text": "inv 1", "payer_name": "RAE ELSPETH"}, "114.00", ("number", 1, True)),
        (
            {"text": "INV-00001", "payer_name": "A. N. Other"},
            "114.00",
            ("number", 1, False),
        ),
        ({"text": "INV-00001"}, "114.00", ("number", 1, False)),
        (
            {"text": "INV-1, INV-2", "payer_name": "Elspeth Rae"},
            "164.00",
            ("number", 1, True),
        ),
        (
            {"text": "INV-1, INV-3", "payer_name": "Elspeth Rae"},
            "194.00",
            ("number", 1, False),
        ),
        # of several clients: never posted, however little it is
        (
            {"text": "INV-1, INV-3", "payer_name": "Elspeth Rae"},
            "100.00",
            ("number", 1, False),
        ),
        # an amount and a known payer are proposed, never posted
        ({"payer_name": "Elspeth Rae"}, "50.00", ("amount", 1, False)),
        ({"payer_account": "gb29nwbk60161331926819"}, "80.00", ("amount", 2, False)),
        ({"payer_name": "Elspeth Rae"}, "164.00", ("amount", 1, False)),
        # a payer alone
        ({"payer_name": "Iona Kerr"}, "7.00", ("payer", 3, False)),
        # nobody
        ({"payer_name": "Somebody Else"}, "114.00", ("", None, False)),
        # money out
        ({"text": rf_of("INV-00001")}, "-114.00", ("", None, False)),
        # another currency
        ({"text": rf_of("INV-00001"), "currency": "EUR"}, "114.00", ("rf", 1, False)),
    ],
)
def test_the_order_of_matching(matcher, over, amount, expected):
    found = matcher.match(line(amount, **over))
    assert (found.found_by, found.client, found.posts) == expected
    assert found.why or found.posts or not found.found_by


def test_an_rf_goes_before_a_number_in_the_same_text(matcher):
    found = matcher.match(line("50.00", text=f"INV-00001 {rf_of('INV-00002')}"))
    assert found.numbers == ("INV-00002",)


def test_a_name_that_two_clients_could_be_is_nobodys():
    twins = [Payer(1, "Ann Smith"), Payer(2, "Anne Smith")]
    found = Matcher(DOCUMENTS, twins, {}).match(line("50.00", payer_name="Ann Smith"))
    assert found.client is None
