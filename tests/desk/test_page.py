"""The page in a real browser, used as a designer uses it.

Wherever the page says where something stands, the browser itself is asked (which character of
the text area lies under this point). Contrast follows WCAG 2.2, success criterion 1.4.3
(W3C Recommendation): 4.5 to 1 for text.
"""

from __future__ import annotations

import re
import shutil
import subprocess
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.desk.conftest import ROOT, RunningDesk, start_desk

pytest.importorskip("starlette", reason="the extra desk is not installed")

SAMPLES = ROOT / "samples"
WAIT = 20_000  # ms; only ever waited for in full when something is broken

COWL = """Cowl

Worked: in the round
Cast on 24 sts, join in the round.

Rnd 1: *K2, yo, k2tog, k4; rep from * around.
Rnd 2: Knit.
Rnd 3: *K1, yo, sk2p, yo, k4; rep from * around.
Rnd 4: Knit.
"""


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[RunningDesk]:
    """One desk for all tests that leave it alive."""
    place = tmp_path_factory.mktemp("desk")
    for name in ("saltmarsh", "state"):
        (place / name).mkdir()
    desk = start_desk(place / "saltmarsh", place / "state")
    yield desk
    desk.stop()


@pytest.fixture
def desk(running: RunningDesk) -> RunningDesk:
    """The desk with nothing in its folder but one cowl, and nothing kept aside."""
    for one in running.folder.iterdir():
        one.unlink()
    for one in (running.state / "chartc" / "desk").glob("*.json"):
        one.unlink()
    (running.folder / "cowl.knit").write_text(COWL)
    return running


Opener = Callable[..., Any]


@pytest.fixture
def open_page(browser: Any) -> Iterator[Opener]:
    """Opens pages, each context a new empty profile; errors on a page fail the test."""
    contexts: list[Any] = []
    errors: list[str] = []

    def opened(
        desk: RunningDesk, context: Any = None, file: str = "cowl.knit", **more: Any
    ) -> Any:
        if context is None:
            more.setdefault("viewport", {"width": 1280, "height": 800})
            context = browser.new_context(**more)
            contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(WAIT)
        page.on("pageerror", lambda error: errors.append(str(error)))
        page.on(
            "request",
            lambda request: errors.append(f"asked {request.url}")
            if not request.url.startswith((desk.base, "blob:")) else None,
        )  # fmt: skip
        page.goto(desk.open(file) if file else desk.address)
        page.wait_for_selector("html[data-ready]")
        return page

    yield opened
    for context in contexts:
        context.close()
    assert errors == []


def proved(page: Any) -> None:
    """Wait until the newest text is counted and its findings are shown."""
    page.wait_for_function(
        "() => { const n = String(document.querySelector('#text').value.length), "
        "d = document.documentElement.dataset; return d.counted === n && d.proved === n }"
    )


def drawn(page: Any) -> None:
    page.wait_for_function(
        "() => document.documentElement.dataset.drawn === "
        "String(document.querySelector('#text').value.length)"
    )


def put_caret(page: Any, words: str, after: int = 0) -> None:
    page.evaluate(
        "([words, after]) => { const t = document.querySelector('#text'); t.focus(); "
        "const i = t.value.indexOf(words) + after; t.setSelectionRange(i, i); }",
        [words, after],
    )


def count_at(page: Any, line: int) -> list[str]:
    return page.locator(f'.count[data-line="{line}"] [role="cell"]').all_text_contents()


def text(page: Any) -> str:
    return str(page.locator("#text").input_value())


def settled(page: Any, kind: str) -> None:
    """Wait until the verdict is of a kind."""
    page.wait_for_selector(f'#verdict[data-kind="{kind}"]')


# ------------------------------------------------------------------ the main way through


def test_type_break_repair_save_reload(desk: RunningDesk, open_page: Opener) -> None:
    page = open_page(desk)
    settled(page, "sound")
    assert count_at(page, 6)[0] == "24"
    drawn(page)
    rows = page.locator("#drawing svg").count()
    assert rows == 1

    put_caret(page, "Rnd 4", 0)
    page.keyboard.type("Rnd 3a: Knit.\n")
    proved(page)

    # break it: the repeat of the third round takes nine stitches
    put_caret(page, "sk2p, yo, k4", len("sk2p, yo, k4"))
    page.keyboard.press("Backspace")
    page.keyboard.type("5")
    proved(page)
    settled(page, "wrong")
    flaw = page.locator(".marks .flaw").first
    flaw.wait_for()
    # the mark lies over the very characters it is about
    box = flaw.bounding_box()
    assert box is not None
    place = page.evaluate(
        "([x, y]) => { const p = document.caretPositionFromPoint(x, y); "
        "return p.offsetNode === document.querySelector('#text') ? p.offset : -1 }",
        [box["x"] + box["width"] / 2, box["y"] + box["height"] / 2],
    )
    finding = page.locator(".finding-list li").first
    line = int(re.search(r"\d+", finding.locator(".go").inner_text())[0])  # type: ignore[index]
    assert text(page)[:place].count("\n") + 1 == line
    # the last chart that came out stays, or the rows up to here are drawn; never none
    assert page.locator("#drawing svg").count() == 1

    # the smallest repair, as a button under the line; then undone and done again
    broken = text(page)
    page.keyboard.press("F8")
    page.locator("#card .mend").first.click()
    proved(page)
    settled(page, "sound")
    mended = text(page)
    assert mended != broken
    page.keyboard.press("Control+z")
    proved(page)
    settled(page, "wrong")
    assert text(page) == broken
    page.keyboard.press("Control+Shift+z")
    proved(page)
    settled(page, "sound")
    assert text(page) == mended

    assert page.locator("#file-state").inner_text() == "not saved"
    page.keyboard.press("Control+s")
    page.wait_for_function("() => document.querySelector('#file-state').textContent === 'saved'")
    assert (desk.folder / "cowl.knit").read_text() == mended
    page.reload()
    page.wait_for_selector("html[data-ready]")
    proved(page)
    assert text(page) == mended
    assert page.locator("#file-state").inner_text() == "saved"


def test_unsaved_words_live_through_reload_and_crash(
    folder: Path, state: Path, open_page: Opener
) -> None:
    (folder / "cowl.knit").write_text(COWL)
    desk = start_desk(folder / "cowl.knit", state)
    page = open_page(desk, file="")
    proved(page)
    put_caret(page, "Rnd 4", 0)
    page.keyboard.type("Rnd 3a: Knit.\n")
    proved(page)
    unsaved = text(page)
    page.reload()
    page.wait_for_selector("html[data-ready]")
    proved(page)
    assert text(page) == unsaved
    assert page.locator("#file-state").inner_text() == "not saved"
    page.keyboard.press("Escape")
    put_caret(page, "Rnd 3a", 0)
    page.keyboard.type("Rnd 2a: Knit.\n")
    unsaved = text(page)
    kept = desk.state / "chartc" / "desk"
    until = time.monotonic() + 10
    while not any("Rnd 2a" in one.read_text() for one in kept.glob("d-*.json")):
        assert time.monotonic() < until, "the unsaved text was not kept aside"
        time.sleep(0.05)
    # the page crashes, and the desk is killed as well
    page.context.close()
    desk.process.kill()
    desk.process.wait()
    assert (desk.folder / "cowl.knit").read_text() == COWL

    again = start_desk(desk.folder / "cowl.knit", desk.state)
    try:
        page = open_page(again, file="")
        proved(page)
        assert text(page) == COWL
        page.get_by_role("button", name="Take them back").click()
        page.wait_for_function("() => document.querySelector('#text').value.includes('Rnd 2a')")
        assert text(page) == unsaved
        page.keyboard.press("Control+s")
        page.wait_for_function(
            "() => document.querySelector('#file-state').textContent === 'saved'"
        )
        assert (desk.folder / "cowl.knit").read_text() == unsaved
        assert list(kept.glob("d-*.json")) == []
    finally:
        again.stop()


def test_two_tabs_and_a_change_on_disk(desk: RunningDesk, open_page: Opener) -> None:
    one = open_page(desk)
    proved(one)
    two = open_page(desk, one.context)
    proved(two)
    two.locator('[data-notice="others"]').wait_for()
    one.locator('[data-notice="others"]').wait_for()

    # the second page has nothing unsaved: it takes in what the first one saves
    put_caret(one, "Rnd 4", 0)
    one.keyboard.type("Rnd 3a: Knit.\n")
    one.keyboard.press("Control+s")
    one.wait_for_function("() => document.querySelector('#file-state').textContent === 'saved'")
    two.wait_for_function("() => document.querySelector('#text').value.includes('Rnd 3a')")

    # both have something unsaved: who saves second is asked, and nothing is lost
    put_caret(two, "Rnd 4", 0)
    two.keyboard.type("Rnd 3b: Knit.\n")
    mine = text(two)
    (desk.folder / "cowl.knit").write_text(COWL + "Rnd 5: Knit.\n")
    two.locator('[data-notice="changed"]').wait_for()
    two.keyboard.press("Control+s")
    two.get_by_role("button", name="Save mine under another name").wait_for()
    assert (desk.folder / "cowl.knit").read_text() == COWL + "Rnd 5: Knit.\n"
    two.get_by_role("button", name="Save mine under another name").click()
    two.locator("#save-name").fill("cowl-two")
    two.keyboard.press("Enter")
    two.wait_for_function("() => document.querySelector('#file-name').textContent === 'cowl-two.knit'")
    assert (desk.folder / "cowl-two.knit").read_text() == mine
    assert (desk.folder / "cowl.knit").read_text() == COWL + "Rnd 5: Knit.\n"


# ------------------------------------------------------------------ words and chart


def test_words_and_stitches_light_each_other(desk: RunningDesk, open_page: Opener) -> None:
    page = open_page(desk)
    drawn(page)
    put_caret(page, "sk2p", 2)
    page.wait_for_selector(".over .word-light")
    # the repeat of 8 is shown twice, so the one word stands for two stitches
    assert page.locator(".over .word-light").count() == 2
    assert page.locator("#row-name").inner_text() == "Rnd 3"

    page.locator("#board").focus()
    page.keyboard.press("ArrowLeft")
    page.wait_for_selector(".over .here")
    for _ in range(2):
        page.keyboard.press("ArrowLeft")
    assert "sk2p" in page.locator("#stitch-words").inner_text()
    assert page.locator(".over .from").count() >= 3  # drawn through three loops
    lit = page.locator(".marks .lit").first.bounding_box()
    assert lit is not None
    place = page.evaluate(
        "([x, y]) => document.caretPositionFromPoint(x, y).offset",
        [lit["x"] + lit["width"] / 2, lit["y"] + lit["height"] / 2],
    )
    start = COWL.index("sk2p")
    assert start <= place <= start + 4
    page.keyboard.press("Enter")
    assert page.evaluate("document.getSelection().toString()") == "sk2p"

    # by the mouse: the cell under the pointer is the one told
    box = page.locator(".over .row-light").bounding_box()
    assert box is not None
    page.mouse.move(box["x"] + box["width"] - 4, box["y"] + box["height"] / 2)
    page.wait_for_function("() => document.querySelector('#stitch-words').textContent.startsWith('k')")

    page.locator("#row-on").click()
    assert page.locator("#row-name").inner_text() == "Rnd 4"
    page.locator("#view summary").click()
    page.get_by_label("Pattern rows only").check()
    page.wait_for_function("() => document.querySelector('#reads').textContent.includes('Not shown')")
    page.get_by_label("Mirrored").check()
    page.wait_for_function("() => document.querySelector('#reads').textContent.includes('mirror')")
    page.get_by_label("Where repeats begin").check()
    page.wait_for_selector("#drawing #chart-drift", state="attached")


def test_every_size_and_one_size(desk: RunningDesk, open_page: Opener) -> None:
    shutil.copy(SAMPLES / "lanternhead-hat.knit", desk.folder / "hat.knit")
    page = open_page(desk, file="hat.knit")
    proved(page)
    # by hand, tests/expected/lanternhead-hat.json: 80 (88, 100) sts after the first round
    assert count_at(page, 34) == ["80", "88", "100"]
    page.select_option("#size", label="Adult Large")
    assert count_at(page, 34)[0] == "100"
    put_caret(page, "Inc rnd", 2)
    page.wait_for_function("() => document.querySelector('#row-body').textContent.includes('108')")


# ------------------------------------------------------------------ files


def test_files_in_and_out(desk: RunningDesk, open_page: Opener, tmp_path: Path) -> None:
    shutil.copy(SAMPLES / "dunlin-tracks.knit", desk.folder / "tracks.knit")
    page = open_page(desk)
    proved(page)

    def sent(title: str) -> bytes:
        page.locator("#do-send").click()
        with page.expect_download() as waiting:
            page.get_by_role("button", name=title).click()
        return Path(waiting.value.path()).read_bytes()

    assert sent("Chart, SVG").startswith(b"<?xml")
    table = sent("Chart, CSV")
    assert b"sk2p" in table
    assert b"Rnd 1" in sent("Tidy words")

    # compared with another, then with itself as a chart
    (desk.folder / "other.knit").write_text(COWL.replace("sk2p", "k3tog"))
    page.locator("#do-compare").click()
    page.get_by_role("button", name="other.knit").click()
    page.get_by_role("dialog").get_by_text(re.compile("rnd 3: differs", re.I)).wait_for()
    page.locator("dialog .close").click()

    # a table dropped on the page becomes words
    given = page.evaluate_handle(
        "([text]) => { const d = new DataTransfer(); "
        "d.items.add(new File([text], 'fan.csv', {type: 'text/csv'})); return d }",
        [table.decode("utf-8-sig")],
    )
    page.dispatch_event("body", "drop", {"dataTransfer": given})
    page.locator('[data-notice="taken"]').wait_for()
    proved(page)
    assert "sk2p" in text(page) and "Rnd 1" in text(page)
    settled(page, "sound")

    # a sample is begun from, and saved under a name of its own
    page.locator("#do-new").click()
    page.get_by_role("button", name="Spit Drift").first.click()
    page.wait_for_function("() => document.querySelector('#text').value.includes('Rnd 1') || document.querySelector('#text').value.includes('Round 1')")
    page.keyboard.press("Control+s")
    page.locator("#save-name").fill("cowl.knit")
    page.keyboard.press("Enter")
    page.get_by_role("button", name="Choose another name").click()
    page.locator("#save-name").fill("drift")
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('#file-name').textContent === 'drift.knit'")
    assert (desk.folder / "drift.knit").exists()
    assert (desk.folder / "cowl.knit").read_text() == COWL

    # what goes to the printer
    page.evaluate("window.print = () => {}")
    for what, inside in (("The chart", "#printed svg"), ("The words", "#printed table")):
        page.locator("#do-print").click()
        page.get_by_role("button", name=what).click()
        page.wait_for_selector(inside, state="attached")


def test_pasting_from_a_word_processor(desk: RunningDesk, open_page: Opener) -> None:
    page = open_page(desk)
    proved(page)
    page.evaluate(
        "() => { const t = document.querySelector('#text'); t.focus(); t.select(); "
        "const d = new DataTransfer(); "
        "d.setData('text/plain', 'Cowl\\u2028\\u2028Cast on 6\\u00a0sts.\\u000bRow 1: K\\u00ad6.\\r\\n'); "
        "t.dispatchEvent(new ClipboardEvent('paste', {clipboardData: d, bubbles: true, cancelable: true})) }"
    )
    assert text(page) == "Cowl\n\nCast on 6\u00a0sts.\nRow 1: K6.\n"
    proved(page)
    assert count_at(page, 4)[0] == "6"
    page.keyboard.press("Control+z")
    assert text(page) == COWL


# ------------------------------------------------------------------ hostile and huge


def test_hostile_words(desk: RunningDesk, open_page: Opener) -> None:
    evil = "<img src=x onerror=\"window.broken=1\"><script>window.broken=1</script>"
    (desk.folder / "evil.knit").write_text(
        f"{evil}\n\nSizes: {evil} ({evil})\n\n{evil}:\nCast on 6 sts.\n"
        f"Row 1: K6. {evil}\nRow 2: K2, {evil}, k2, yo.\n{evil}: K9.\n"
    )
    (desk.folder / "<img src=x onerror=alert(1)>.knit").write_text("Hat\n")
    page = open_page(desk, file="evil.knit")
    proved(page)
    page.locator(".finding-list .go").first.click()
    page.locator("#do-open").click()
    page.get_by_role("button", name="onerror", exact=False).first.wait_for()
    page.keyboard.press("Escape")
    assert page.evaluate("window.broken") is None
    assert page.locator("img, main script, #drawing script").count() == 0


def test_a_huge_text_leaves_the_page_alive(desk: RunningDesk, open_page: Opener) -> None:
    page = open_page(desk, permissions=["clipboard-read", "clipboard-write"])
    proved(page)
    more = "".join(
        f"Rnd {n}: *K2, yo, k2tog, k4; rep from * around.\n" for n in range(5, 505)
    )
    page.evaluate("([more]) => navigator.clipboard.writeText(more)", [more])
    put_caret(page, "Rnd 4: Knit.\n", len("Rnd 4: Knit.\n"))
    page.keyboard.press("Control+v")
    page.keyboard.type("Rnd")
    page.wait_for_function(
        "() => document.documentElement.dataset.counted === "
        "String(document.querySelector('#text').value.length)"
    )
    assert page.locator(".count").count() > 400


def test_the_desk_stops_under_the_page(folder: Path, state: Path, open_page: Opener) -> None:
    (folder / "cowl.knit").write_text(COWL)
    desk = start_desk(folder / "cowl.knit", state)
    page = open_page(desk, file="")
    desk.stop()
    page.locator("#text").focus()
    page.keyboard.type("More ")
    page.locator('[data-notice="away"]').wait_for()
    with page.expect_download() as waiting:
        page.get_by_role("button", name="Save a copy").click()
    assert "More Cowl" in Path(waiting.value.path()).read_text()


def test_no_page_without_the_key(desk: RunningDesk, browser: Any) -> None:
    context = browser.new_context()
    page = context.new_page()
    page.goto(desk.base)
    page.locator('[data-notice="key"]').wait_for(timeout=WAIT)
    assert text(page) == ""
    context.close()


# ------------------------------------------------------------------ by keyboard, by ear, at any size


def test_by_keyboard_alone(desk: RunningDesk, open_page: Opener) -> None:
    (desk.folder / "cowl.knit").unlink()
    shutil.copy(SAMPLES / "dunlin-tracks-slip.knit", desk.folder / "tracks.knit")
    page = open_page(desk, file="")
    # the folder's files are offered at once, the first one at hand
    page.get_by_role("dialog").wait_for()
    page.keyboard.press("Enter")
    page.wait_for_function("() => document.querySelector('#text').value")
    proved(page)
    settled(page, "wrong")
    page.keyboard.press("F6")
    page.keyboard.press("F8")
    page.wait_for_function(
        "() => document.activeElement.id === 'text' && !document.querySelector('#card').hidden"
    )
    page.wait_for_function("() => document.querySelector('#say').textContent.includes('wrong')")
    page.keyboard.press("Escape")
    assert page.locator("#card").is_hidden()
    page.keyboard.press("Alt+Enter")
    proved(page)
    settled(page, "sound")
    page.wait_for_function(
        "() => /Every row comes out|Repaired/.test(document.querySelector('#say').textContent)"
    )
    page.keyboard.press("Control+s")
    page.wait_for_function(
        "() => document.querySelector('#file-state').textContent === 'saved'"
    )
    # every control can be reached, and shows that it has been
    seen = set()
    page.locator("#text").focus()
    for _ in range(40):
        page.keyboard.press("Tab")
        where = page.evaluate(
            "() => { const e = document.activeElement; "
            "if (e === document.body) return ['', '']; const s = getComputedStyle(e); "
            "return [e.id || e.textContent.trim().slice(0, 20), s.outlineStyle] }"
        )
        if where[0] and where[0] != "text":
            assert where[1] != "none", where
        seen.add(where[0])
    assert {"board", "part", "row-on", "zoom-in"} <= seen
    # Tab leaves the text area: it is no trap
    assert len(seen) > 8


def contrast(page: Any) -> list[str]:
    """Texts on the page whose contrast is less than 4.5 to 1 (WCAG 2.2, 1.4.3; relative
    luminance as defined there), as colours painted on the nearest opaque ground."""
    found = page.evaluate(
        """() => {
        const parse = (c) => {
            const canvas = document.createElement('canvas').getContext('2d', {willReadFrequently: true});
            canvas.clearRect(0, 0, 1, 1); canvas.fillStyle = c; canvas.fillRect(0, 0, 1, 1);
            return [...canvas.getImageData(0, 0, 1, 1).data];
        };
        const light = ([r, g, b]) => [r, g, b].map((v) => { v /= 255;
            return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4; })
            .reduce((sum, v, i) => sum + v * [0.2126, 0.7152, 0.0722][i], 0);
        const out = [];
        for (const e of document.querySelectorAll('body *')) {
            const own = [...e.childNodes].some((n) => n.nodeType === 3 && n.data.trim());
            if (!own || !e.checkVisibility() || e.closest('.unseen, .mirror, svg, :disabled, .skip')) continue;
            let ground = e, colour;
            do { colour = parse(getComputedStyle(ground).backgroundColor); ground = ground.parentElement; }
            while (colour[3] < 255 && ground);
            const a = light(parse(getComputedStyle(e).color)), b = light(colour);
            const ratio = (Math.max(a, b) + 0.05) / (Math.min(a, b) + 0.05);
            if (ratio < 4.5) out.push(`${e.tagName}.${e.className} ${e.textContent.trim().slice(0, 30)}: ${ratio.toFixed(2)}`);
        }
        return out; }"""
    )
    return list(found)


def unnamed(page: Any) -> list[str]:
    """Controls without a name in the accessibility tree the browser builds."""
    return list(
        page.evaluate(
            """() => [...document.querySelectorAll('button, select, input, textarea, summary, [role], [tabindex="0"]')]
        .filter((e) => e.checkVisibility() && !e.closest('[aria-hidden="true"]'))
        .filter((e) => !['row', 'cell', 'rowheader', 'columnheader', 'status'].includes(e.getAttribute('role')))
        .filter((e) => !(e.getAttribute('aria-label') || e.getAttribute('aria-labelledby') || e.labels?.length
            || e.textContent.trim())).map((e) => e.outerHTML.slice(0, 90))"""
        )
    )


def axe_source() -> str:
    """The axe-core rules, fetched by npm for this test alone."""
    npm = shutil.which("npm")
    if npm is None:
        pytest.skip("axe-core cannot be had: npm is not installed")
    cache = Path.home() / ".cache" / "chartc-tests" / "axe"
    source = cache / "package" / "axe.min.js"
    if not source.exists():
        cache.mkdir(parents=True, exist_ok=True)
        try:
            subprocess.run(
                [npm, "pack", "axe-core@4", "--silent"], cwd=cache, check=True, timeout=60,
                capture_output=True,
            )  # fmt: skip
        except (subprocess.SubprocessError, OSError):
            pytest.skip("axe-core cannot be had: npm cannot fetch it here")
        package = next(cache.glob("axe-core-*.tgz"))
        shutil.unpack_archive(package, cache, filter="data")
    return source.read_text("utf-8")


def test_accessibility(desk: RunningDesk, open_page: Opener) -> None:
    shutil.copy(SAMPLES / "estuary-yoke-slip.knit", desk.folder / "yoke.knit")
    page = open_page(desk, file="yoke.knit")
    proved(page)
    page.keyboard.press("F8")
    drawn(page)
    page.locator("#card").wait_for()
    assert unnamed(page) == []
    for scheme in ("light", "dark"):
        page.emulate_media(color_scheme=scheme)
        assert contrast(page) == [], scheme
    page.locator("#do-new").click()
    page.get_by_role("dialog").wait_for()
    assert contrast(page) == []
    page.keyboard.press("Escape")
    page.evaluate(axe_source() + ";0")
    for scheme in ("dark", "light"):
        page.emulate_media(color_scheme=scheme)
        found = page.evaluate(
            "async () => (await axe.run(document, {resultTypes: ['violations']})).violations"
            ".map((v) => `${v.id}: ${v.help}: "
            "${v.nodes.slice(0, 3).map((n) => n.html.slice(0, 120)).join(' | ')}`)"
        )
        assert found == [], scheme


def test_at_every_size(desk: RunningDesk, open_page: Opener) -> None:
    """Nothing runs out of the page sideways, and each count stands beside its own line.

    A window of 1280 by 800 at 200 % is one of 640 by 400 with two device pixels to each."""
    shutil.copy(SAMPLES / "estuary-yoke.knit", desk.folder / "yoke.knit")
    page = open_page(desk, file="yoke.knit", device_scale_factor=2, reduced_motion="reduce")
    proved(page)
    drawn(page)
    for width, height in ((1440, 900), (820, 1180), (640, 400), (390, 844)):
        page.set_viewport_size({"width": width, "height": height})
        page.evaluate("() => new Promise((r) => setTimeout(r, 120))")
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width
        for line in (42, 49, 57):
            place = page.evaluate(
                "async (line) => { const one = document.querySelector(`.count[data-line='${line}']`);"
                "one.scrollIntoView({block: 'center'});"
                "await new Promise((r) => requestAnimationFrame(() => requestAnimationFrame(r)));"
                "const words = document.querySelector('#text').getBoundingClientRect();"
                "const now = document.querySelector(`.count[data-line='${line}']`);"
                "return document.caretPositionFromPoint("
                "words.left + 30, now.getBoundingClientRect().top + 14)?.offset ?? -1 }",
                line,
            )
            assert text(page)[:place].count("\n") + 1 == line, (width, line, place)
