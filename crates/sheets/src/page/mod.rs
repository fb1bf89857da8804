//! The frame every sheet stands in: paper, title block, index of sheets, and the pieces pages are made of.
//!
//! A page is one file: style, typeface and pictures are inside it, and nothing is fetched. The same input gives
//! the same bytes: the date in the title block is the book's, the revision is a hash of the inputs.

mod font;

use maud::{DOCTYPE, Markup, PreEscaped, html};

use crate::draw::chart::Format;
use crate::svg::{ACCENT, Drawing, FAINT, INK, PAPER, RULE, SOFT, drawing_css};

/// A sheet in the index: its file, its name and the question it answers.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Entry {
    /// File name.
    pub file: &'static str,
    /// Name.
    pub name: &'static str,
    /// The question it answers.
    pub question: &'static str,
}

/// What the title block says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TitleBlock<'a> {
    /// Project's name.
    pub project: &'a str,
    /// Line under the project's name: that it is invented, or where it stands.
    pub about: &'a str,
    /// Line under the sheet's name: stage and the book's date.
    pub status: &'a str,
    /// Hash of the inputs, shortened by the caller.
    pub revision: &'a str,
    /// Language of the words, `en-US` or `en-GB`.
    pub language: &'a str,
}

/// How a page comes by its style and script.
#[derive(Clone, Copy, Debug)]
pub enum Dress<'a> {
    /// Both inside it: one file that fetches nothing.
    Whole,
    /// Both from the server that gives the page and forbids anything inline.
    Served {
        /// Links to style and scripts, for the page's head.
        head: &'a Markup,
        /// What stands above the sheet.
        above: &'a Markup,
    },
}

/// Frames a sheet's content. `index` lists the whole set; `current` is the place of this sheet in it.
pub fn frame(block: TitleBlock<'_>, index: &[Entry], current: usize, content: &Markup) -> String {
    dressed(block, index, Some(current), "Sheet", content, Dress::Whole)
}

/// Frames content in either dress; `name` is that of a page outside the index, whose `current` is `None`.
pub fn dressed(
    block: TitleBlock<'_>,
    index: &[Entry],
    current: Option<usize>,
    name: &str,
    content: &Markup,
    dress: Dress<'_>,
) -> String {
    let name = current.and_then(|place| index.get(place)).map_or(name, |e| e.name);
    html! {
        (DOCTYPE)
        html lang=(block.language) {
            head {
                meta charset="utf-8";
                meta name="viewport" content="width=device-width,initial-scale=1";
                title { (name) " · " (block.project) }
                @match dress {
                    Dress::Whole => { style { (PreEscaped(style())) } }
                    Dress::Served { head, .. } => { (head) }
                }
            }
            body {
                a.skip href="#sheet" { "Skip to the sheet" }
                @if let Dress::Served { above, .. } = dress { (above) }
                div.sheet {
                    main id="sheet" tabindex="-1" { (content) }
                    footer.block {
                        nav aria-label="Index of sheets" {
                            ol {
                                @for (place, entry) in index.iter().enumerate() {
                                    li {
                                        a href=(entry.file) aria-current=[(Some(place) == current).then_some("page")] {
                                            b { (place + 1) " " (entry.name) }
                                            span { (entry.question) }
                                        }
                                    }
                                }
                            }
                        }
                        (title_block(block, name, current, index.len()))
                    }
                }
                @if let Dress::Whole = dress { script { (PreEscaped(SCRIPT)) } }
            }
        }
    }
    .into_string()
}

fn title_block(block: TitleBlock<'_>, name: &str, current: Option<usize>, count: usize) -> Markup {
    html! {
        dl.title {
            div { dt { "Project" } dd { (block.project) small { (block.about) } } }
            div { dt { @match current { Some(place) => { "Sheet " (place + 1) " of " (count) } None => "Page" } } dd { (name) small { (block.status) } } }
            div { dt { "Revision" } dd.num { (block.revision) small { "hash of the inputs" } } }
        }
    }
}

/// Brings the present stage into view, and opens the workings that have room beside their drawing on a desk.
/// Without it the line of stages can still be moved and every working opened by hand.
pub const SCRIPT: &str = "if(innerWidth>1180)for(const d of document.querySelectorAll('.beside details'))d.open=true;for(const l of document.querySelectorAll('.stages')){const n=l.querySelector('.now');\
if(n)l.scrollLeft=n.offsetLeft-l.offsetLeft-(l.clientWidth-n.offsetWidth)/2}";

/// The style of every page, typeface and drawings' inks included.
pub fn style() -> String {
    let named = [
        ("ACCENT", ACCENT),
        ("PAPER", PAPER),
        ("FAINT", FAINT),
        ("SOFT", SOFT),
        ("RULE", RULE),
        ("INK", INK),
    ];
    let mut css = [
        include_str!("style.css"),
        include_str!("joints.css"),
        include_str!("moisture.css"),
        include_str!("site_log.css"),
    ]
    .concat();
    for (name, value) in named {
        css = css.replace(name, value);
    }
    // The page's own rules come last, so that print may change the drawings' inks.
    format!("{}{}{css}", font::faces(), drawing_css())
}

/// A picture in both formats, each shown where it fits, under a sentence that says what to see.
pub fn figure(sentence: &str, draw: impl Fn(Format) -> Drawing) -> Markup {
    html! {
        figure.fit {
            @if !sentence.is_empty() { figcaption { (sentence) } }
            div.desk { (PreEscaped(draw(Format::Desk).inline())) }
            div.phone { (PreEscaped(draw(Format::Phone).inline())) }
        }
    }
}

/// A picture that a phone may also look at closely: the desk's drawing, panned sideways.
pub fn figure_to_pan(id: &str, sentence: &str, draw: impl Fn(Format) -> Drawing) -> Markup {
    let (whole, close) = (format!("{id}-whole"), format!("{id}-close"));
    html! {
        figure.fit {
            @if !sentence.is_empty() { figcaption { (sentence) } }
            div.views role="radiogroup" aria-label="How close" {
                input id=(whole) type="radio" name=(id) checked;
                label for=(whole) { "Whole" }
                input.close id=(close) type="radio" name=(id);
                label for=(close) { "Closer" }
            }
            div.desk.pan role="region" aria-label="Drawing, moves sideways" tabindex="0" {
                (PreEscaped(draw(Format::Desk).inline()))
            }
            div.phone { (PreEscaped(draw(Format::Phone).inline())) }
        }
    }
}

/// Words with their ruler fractions set as one figure.
pub fn fractions(words: &str) -> Markup {
    html! {
        @for (part, fraction) in crate::svg::fractions(words) {
            @if fraction { span.fr { (part) } } @else { (part) }
        }
    }
}

/// A working that opens on request.
pub fn working(summary: &str, content: &Markup) -> Markup {
    html! { details { summary { (summary) } div.work { (content) } } }
}

/// A table behind a chart or a working; columns after the first hold figures.
pub fn table(caption: &str, head: &[&str], rows: &[Vec<String>]) -> Markup {
    html! {
        div.wide {
            table {
                @if !caption.is_empty() { caption { (caption) } }
                thead { tr {
                    @for (place, cell) in head.iter().enumerate() {
                        th scope="col" class=[(place > 0).then_some("n")] { (cell) }
                    }
                } }
                tbody {
                    @for row in rows {
                        tr {
                            @for (place, cell) in row.iter().enumerate() {
                                @if place == 0 { th scope="row" { (cell) } } @else { td.n { (cell) } }
                            }
                        }
                    }
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::svg::decimal;

    const INDEX: [Entry; 2] = [
        Entry { file: "index.html", name: "Where we stand", question: "what holds us back?" },
        Entry { file: "fabric.html", name: "Fabric", question: "warm and dry?" },
    ];
    const BLOCK: TitleBlock<'_> = TitleBlock {
        project: "A <shed> & co",
        about: "invented",
        status: "survey",
        revision: "4f1c 9a02",
        language: "en-US",
    };

    #[test]
    fn user_words_never_become_markup() {
        let page = frame(BLOCK, &INDEX, 1, &html! { p { "x" } });
        assert!(page.contains("A &lt;shed&gt; &amp; co"));
        assert!(!page.contains("<shed>"));
    }

    #[test]
    fn a_page_fetches_nothing() {
        let page = frame(BLOCK, &INDEX, 0, &html! {});
        let outside: Vec<&str> = ["http:", "https:", "src=\"", "@import", "url(//"]
            .into_iter()
            .filter(|t| page.contains(t))
            .collect();
        assert_eq!(outside, Vec::<&str>::new());
        assert_eq!(page.matches("aria-current=\"page\"").count(), 1);
    }

    #[test]
    fn every_colour_name_in_the_style_is_replaced() {
        let css = style();
        for name in ["ACCENT", "PAPER", "FAINT", "SOFT", "RULE", "INK"] {
            // The embedded typeface is base64 and may hold any letters; look only behind it.
            let rules = css.rsplit("format('woff2')}").next().unwrap();
            assert!(!rules.contains(name), "{name}");
        }
    }

    /// Contrast of two colours by WCAG 2.2, relative luminance of sRGB.
    fn contrast(a: &str, b: &str) -> f64 {
        let luminance = |hex: &str| {
            let channel = |at: usize| {
                let c = f64::from(u8::from_str_radix(&hex[at..at + 2], 16).unwrap()) / 255.0;
                if c <= 0.04045 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
            };
            0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5)
        };
        let (a, b) = (luminance(a) + 0.05, luminance(b) + 0.05);
        if a > b { a / b } else { b / a }
    }

    #[test]
    fn words_keep_the_contrast_of_level_aa() {
        for colour in [INK, SOFT, ACCENT] {
            let ratio = contrast(colour, PAPER);
            assert!(ratio >= 4.5, "{colour} on paper is {}", decimal(ratio, 2));
        }
    }
}
