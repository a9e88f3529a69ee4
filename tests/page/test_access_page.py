"""The page that asks for the code, by WCAG 2.2: measured in a real browser, light and dark."""

import pytest

from page.audit import contrast, faint_parts, faint_texts, luminance, small_targets, unnamed_controls, walk_by_tab
from page.real_page import chromium, served


def test_the_formulas_give_the_published_ratios():
    # WCAG 2.2, contrast ratio: 1:1 to 21:1. Understanding SC 1.4.3 names #767676 on white as the lightest grey that
    # passes 4.5:1 (and #777777 as one that does not, 4.48:1).
    assert contrast((255, 255, 255), (0, 0, 0)) == pytest.approx(21.0)
    assert contrast((119, 119, 119), (255, 255, 255)) == pytest.approx(4.48, abs=0.005)
    assert contrast((118, 118, 118), (255, 255, 255)) >= 4.5
    assert contrast((9, 9, 9), (9, 9, 9)) == 1.0
    assert luminance((255, 255, 255)) == pytest.approx(1.0)


@pytest.mark.slow
def test_the_page_that_asks_for_the_code_can_be_read_and_worked_by_everyone(tmp_path):
    with served(tmp_path) as page, chromium() as browser:
        for scheme in ("light", "dark"):
            for width in (360, 1024, 1920):
                context = browser.new_context(color_scheme=scheme, viewport={"width": width, "height": 800})
                shown = context.new_page()
                shown.goto(f"{page.shop}/enter")
                assert faint_texts(shown) == []
                assert faint_parts(shown) == []
                assert small_targets(shown) == []
                assert unnamed_controls(shown) == []
                walk = walk_by_tab(shown)
                assert (len(walk.visited), walk.unreached, walk.unseen) == (2, [], [])
                assert shown.evaluate("document.documentElement.scrollWidth <= innerWidth")
                context.close()


@pytest.mark.slow
def test_the_measurements_find_what_is_wrong():
    bad = """<body style="background:#fff"><p style="color:#999">faint</p><p style="color:#767676">enough</p>
        <button style="background:#fff;border:0;width:10px;height:10px;outline:none"></button>
        <input type="text" aria-label="field" style="border:1px solid #ddd">
        <div onclick="1" role="button">unreachable</div></body>"""
    with chromium() as browser:
        shown = browser.new_context().new_page()
        shown.set_content(bad)
        assert [text.partition(" ")[2] for text in faint_texts(shown)] == ["faint"]
        assert len(faint_parts(shown)) == 2
        assert len(small_targets(shown)) >= 1
        assert len(unnamed_controls(shown)) == 1
        walk = walk_by_tab(shown)
        assert len(walk.unseen) >= 1
        assert len(walk.unreached) == 1
