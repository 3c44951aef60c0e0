//! A lesson's Markdown in pieces that are drawn one under the other.
//!
//! Nothing here trusts the text: HTML is text, a link or picture that leads nowhere is its own
//! words, and what is nested too deeply lies flat.

use pulldown_cmark::{Event, Tag, TagEnd};

use crate::lesson::text::{self, PictureWish, Target};

/// Deepest list or quotation inside another; what lies deeper is drawn at this depth.
const DEEPEST: usize = 6;
/// Most pieces of one text; a page beyond that is nobody's to read.
const MOST_BLOCKS: usize = 4_000;

/// A piece of a page.
#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Block {
    /// A heading; 1 is the largest.
    Heading(u8, Vec<Span>),
    /// A paragraph.
    Paragraph(Vec<Span>),
    /// Points of a list, each with its mark and its depth from 0.
    Point {
        /// `•` or `1.`.
        mark: String,
        /// How deep.
        depth: usize,
        /// The words.
        spans: Vec<Span>,
    },
    /// A caution: the paragraphs of a quotation.
    Caution(Vec<Vec<Span>>),
    /// Lines of letters of one width.
    Code(String),
    /// Rows of cells, the head first.
    Table(Vec<Vec<Vec<Span>>>),
    /// A picture of a run, and what is seen in it.
    Picture(PictureWish, String),
    /// A line across.
    Rule,
}

/// Words of one look.
#[derive(Clone, Debug, Default, PartialEq)]
pub(crate) struct Span {
    /// The words.
    pub(crate) words: String,
    /// Weighty.
    pub(crate) strong: bool,
    /// Slanted.
    pub(crate) slanted: bool,
    /// In letters of one width.
    pub(crate) code: bool,
    /// Where they lead.
    pub(crate) link: Option<Target>,
}

/// The words of spans without their looks.
pub(crate) fn plain(spans: &[Span]) -> String {
    spans.iter().map(|span| span.words.as_str()).collect()
}

/// Reads a text.
pub(crate) fn blocks(markdown: &str) -> Vec<Block> {
    let mut reader = Reader::default();
    for (event, _) in text::events(markdown) {
        if reader.out.len() >= MOST_BLOCKS {
            break;
        }
        reader.event(event);
    }
    reader.paragraph();
    reader.close_caution();
    reader.out
}

/// The spans of a text of one paragraph; several run on.
pub(crate) fn spans(markdown: &str) -> Vec<Span> {
    let mut all: Vec<Span> = Vec::new();
    for block in blocks(markdown) {
        let more = match block {
            Block::Heading(_, spans) | Block::Paragraph(spans) | Block::Point { spans, .. } => {
                spans
            }
            Block::Caution(paragraphs) => paragraphs.into_iter().flatten().collect(),
            Block::Code(words) => vec![Span {
                words,
                code: true,
                ..Span::default()
            }],
            Block::Table(_) | Block::Picture(..) | Block::Rule => continue,
        };
        if !all.is_empty() {
            all.push(Span {
                words: " ".to_owned(),
                ..Span::default()
            });
        }
        all.extend(more);
    }
    all
}

#[derive(Default)]
struct Reader {
    out: Vec<Block>,
    /// The paragraph in the making.
    spans: Vec<Span>,
    /// Looks that are open.
    strong: u32,
    slanted: u32,
    links: Vec<Option<Target>>,
    /// For each list that is open, the next number, or none.
    lists: Vec<Option<u64>>,
    mark: Option<String>,
    heading: Option<u8>,
    cautions: u32,
    caution: Vec<Vec<Span>>,
    code: Option<String>,
    table: Option<Vec<Vec<Vec<Span>>>>,
    picture: Option<(Option<PictureWish>, String)>,
}

impl Reader {
    fn event(&mut self, event: Event<'_>) {
        match event {
            Event::Start(tag) => self.start(tag),
            Event::End(end) => self.end(end),
            Event::Text(words) => self.words(&words, false),
            Event::Code(words) => self.words(&words, true),
            Event::SoftBreak => self.words(" ", false),
            Event::HardBreak => self.words("\n", false),
            Event::Rule => {
                self.paragraph();
                self.out.push(Block::Rule);
            }
            _ => {}
        }
    }

    fn start(&mut self, tag: Tag<'_>) {
        match tag {
            Tag::Paragraph => self.paragraph(),
            Tag::Heading { level, .. } => {
                self.paragraph();
                self.heading = Some(level as u8);
            }
            Tag::BlockQuote(_) => {
                self.paragraph();
                self.cautions += 1;
            }
            Tag::List(first) => {
                self.paragraph();
                self.lists.push(first);
            }
            Tag::Item => {
                self.paragraph();
                self.mark = Some(match self.lists.last_mut() {
                    Some(Some(n)) => {
                        *n = n.saturating_add(1);
                        format!("{}.", *n - 1)
                    }
                    _ => "•".to_owned(),
                });
            }
            Tag::CodeBlock(_) => {
                self.paragraph();
                self.code = Some(String::new());
            }
            Tag::Table(_) => {
                self.paragraph();
                self.table = Some(Vec::new());
            }
            Tag::TableHead | Tag::TableRow => {
                if let Some(rows) = &mut self.table {
                    rows.push(Vec::new());
                }
            }
            Tag::Strong => self.strong += 1,
            Tag::Emphasis => self.slanted += 1,
            Tag::Link { dest_url, .. } => self.links.push(text::link(&dest_url)),
            Tag::Image { dest_url, .. } => {
                self.picture = Some((text::picture(&dest_url), String::new()));
            }
            _ => {}
        }
    }

    fn end(&mut self, end: TagEnd) {
        match end {
            TagEnd::Paragraph | TagEnd::Heading(_) | TagEnd::Item => self.paragraph(),
            TagEnd::BlockQuote(_) => {
                self.paragraph();
                self.cautions = self.cautions.saturating_sub(1);
                if self.cautions == 0 {
                    self.close_caution();
                }
            }
            TagEnd::List(_) => {
                self.paragraph();
                self.lists.pop();
            }
            TagEnd::CodeBlock => {
                if let Some(code) = self.code.take() {
                    let code = text::printable(code.trim_end());
                    self.out.push(Block::Code(code));
                }
            }
            TagEnd::Table => {
                if let Some(rows) = self.table.take() {
                    self.out.push(Block::Table(rows));
                }
            }
            TagEnd::TableCell => {
                let cell = std::mem::take(&mut self.spans);
                if let Some(row) = self.table.as_mut().and_then(|rows| rows.last_mut()) {
                    row.push(cell);
                }
            }
            TagEnd::Strong => self.strong = self.strong.saturating_sub(1),
            TagEnd::Emphasis => self.slanted = self.slanted.saturating_sub(1),
            TagEnd::Link => {
                self.links.pop();
            }
            TagEnd::Image => self.picture_ends(),
            _ => {}
        }
    }

    fn picture_ends(&mut self) {
        match self.picture.take() {
            Some((Some(wish), words)) => {
                self.paragraph();
                self.out.push(Block::Picture(wish, words));
            }
            // a picture that is none: what it would have shown, in words
            Some((None, words)) => self.words(&words, false),
            None => {}
        }
    }

    fn words(&mut self, words: &str, code: bool) {
        if let Some((_, seen)) = &mut self.picture {
            seen.push_str(&text::printable(words));
        } else if let Some(lines) = &mut self.code {
            lines.push_str(words);
        } else {
            let words = text::printable(words);
            self.spans.push(Span {
                words,
                strong: self.strong > 0,
                slanted: self.slanted > 0,
                code,
                link: self.links.last().cloned().flatten(),
            });
        }
    }

    /// Puts down the paragraph that was begun.
    fn paragraph(&mut self) {
        let heading = self.heading.take();
        if self.table.is_some() {
            return;
        }
        let spans = std::mem::take(&mut self.spans);
        if spans.iter().all(|span| span.words.trim().is_empty()) {
            return;
        }
        let depth = self.lists.len().saturating_sub(1).min(DEEPEST);
        if self.cautions > 0 {
            self.caution.push(spans);
        } else if let Some(level) = heading {
            self.out.push(Block::Heading(level, spans));
        } else if !self.lists.is_empty() {
            let mark = self.mark.take().unwrap_or_default();
            self.out.push(Block::Point { mark, depth, spans });
        } else {
            self.out.push(Block::Paragraph(spans));
        }
    }

    fn close_caution(&mut self) {
        let caution = std::mem::take(&mut self.caution);
        if !caution.is_empty() {
            self.out.push(Block::Caution(caution));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::lesson::Sight;

    #[test]
    fn a_page_falls_into_its_pieces() {
        let page = "## Head\n\nA *slow* **fast** `code` [coil](see:coil-u) word.\n\n- one\n- two\n  1. in\n\n> **Caution.** \
                    Hot.\n\n| a | b |\n|---|---|\n| 1 | **2** |\n\n![seen](strips:slow)\n\n```\nx = 1\n```\n\n---\n";
        let all = blocks(page);
        let kinds: Vec<&str> = all
            .iter()
            .map(|block| match block {
                Block::Heading(2, _) => "heading",
                Block::Heading(..) => "other heading",
                Block::Paragraph(_) => "paragraph",
                Block::Point { depth: 0, .. } => "point",
                Block::Point { .. } => "inner point",
                Block::Caution(_) => "caution",
                Block::Code(_) => "code",
                Block::Table(_) => "table",
                Block::Picture(..) => "picture",
                Block::Rule => "rule",
            })
            .collect();
        assert_eq!(
            kinds,
            [
                "heading",
                "paragraph",
                "point",
                "point",
                "inner point",
                "caution",
                "table",
                "picture",
                "code",
                "rule"
            ]
        );
        let Block::Paragraph(spans) = &all[1] else {
            panic!("{all:?}")
        };
        assert_eq!(plain(spans), "A slow fast code coil word.");
        let link = spans.iter().find(|span| span.link.is_some()).unwrap();
        assert_eq!(link.link, Some(Target::See(Sight::Coil(0))));
        let Block::Table(rows) = &all[6] else {
            panic!("{all:?}")
        };
        assert_eq!((rows.len(), rows[1].len()), (2, 2));
        assert!(rows[1][1][0].strong);
    }

    /// HTML is its own words, links out of the course are none, and any depth ends.
    #[test]
    fn a_hostile_text_is_only_text() {
        let page =
            "<script>alert(1)</script>\n\n[out](https://example.org) ![x](file:///etc/passwd)";
        let all = blocks(page);
        let words: String = all
            .iter()
            .map(|block| match block {
                Block::Paragraph(spans) => {
                    assert!(spans.iter().all(|span| span.link.is_none()));
                    plain(spans)
                }
                other => panic!("{other:?}"),
            })
            .collect();
        assert!(words.contains("<script>alert(1)</script>"), "{words}");
        assert!(words.contains("out x"), "{words}");
        for nested in [
            ">".repeat(5_000),
            "- ".repeat(5_000),
            "*a ".repeat(5_000),
            "[".repeat(5_000),
        ] {
            let all = blocks(&format!("{nested} end"));
            let deepest = all.iter().map(|block| match block {
                Block::Point { depth, .. } => *depth,
                _ => 0,
            });
            assert!(deepest.max().unwrap_or(0) <= DEEPEST);
        }
        assert!(blocks(&"a\n\n".repeat(50_000)).len() <= MOST_BLOCKS + 1);
    }
}
