//! The text of a lesson: Markdown in which nothing is code for anybody.
//!
//! HTML is text and shown as text. A picture is drawn from a run, a link leads to the glossary or
//! to another lesson; anything else is a problem with its place.

use pulldown_cmark::{CowStr, Event, Options, Parser, Tag, TagEnd};

use super::problem::{Complaint, LessonProblem};
use super::sight::Sight;
use super::value::Value;
use super::{Condition, ConditionError};
use crate::setup::Place;

/// Lists, quotes and emphasis inside each other.
const DEEPEST: usize = 10;

/// A picture as the text asks for it.
#[derive(Clone, Debug, PartialEq)]
pub struct PictureWish {
    /// What is drawn.
    pub what: PictureKind,
    /// Of which run.
    pub run: String,
    /// At which instant in s; `None`: the end of the run.
    pub at_s: Option<f64>,
}

/// What a picture shows.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PictureKind {
    /// Waveforms and legs of the last electrical turns.
    Strips,
    /// The machine in cross-section.
    Machine,
    /// The bridge and the way of the current.
    Bridge,
    /// Speed and supply current over the whole run.
    Story,
}

/// The first character that is not seen, or that turns text round, other than line ends and tabs.
#[must_use]
pub fn first_hidden(text: &str) -> Option<(usize, char)> {
    text.char_indices().find(|&(at, c)| match c {
        '\n' | '\t' => false,
        '\r' => text.as_bytes().get(at + 1) != Some(&b'\n'),
        _ => is_hidden(c),
    })
}

fn is_hidden(c: char) -> bool {
    c.is_control()
        || matches!(
            c,
            '\u{200b}'..='\u{200f}'
                | '\u{2028}'..='\u{202e}'
                | '\u{2060}'..='\u{206f}'
                | '\u{feff}'
                | '\u{e0000}'..='\u{e007f}'
        )
}

/// A text without characters that are not seen, cut where it is long: fit to be quoted.
#[must_use]
pub fn harmless(text: &str) -> String {
    const LONGEST: usize = 80;
    let seen = text.chars().filter(|c| !is_hidden(*c));
    let mut kept: String = seen.take(LONGEST).collect();
    if text.chars().count() > LONGEST {
        kept.push('…');
    }
    kept
}

/// The same at full length, with line ends kept.
#[must_use]
pub fn printable(text: &str) -> String {
    text.chars()
        .filter(|c| *c == '\n' || !is_hidden(*c))
        .collect()
}

/// The events of a text, HTML turned into text.
pub fn events(markdown: &str) -> impl Iterator<Item = (Event<'_>, std::ops::Range<usize>)> {
    Parser::new_ext(markdown, Options::ENABLE_TABLES)
        .into_offset_iter()
        .map(|(event, range)| {
            let event = match event {
                Event::Html(text) | Event::InlineHtml(text) => Event::Text(text),
                Event::Start(Tag::HtmlBlock) => Event::Start(Tag::Paragraph),
                Event::End(TagEnd::HtmlBlock) => Event::End(TagEnd::Paragraph),
                other => other,
            };
            (event, range)
        })
}

/// Checks links, pictures, nesting and placeholders of a piece that begins at `start`.
pub(super) fn check(markdown: &str, start: usize, problems: &mut Vec<LessonProblem>) {
    let place = |range: std::ops::Range<usize>| Place {
        start: start + range.start,
        end: start + range.end,
    };
    let mut depth = 0_usize;
    let mut alone = false;
    for (event, range) in events(markdown) {
        match event {
            Event::Start(tag) => {
                depth += 1;
                if depth > DEEPEST {
                    let complaint = Complaint::TooDeep { allowed: DEEPEST };
                    problems.push(LessonProblem::at(complaint, place(range)));
                    return;
                }
                match tag {
                    Tag::Paragraph => {
                        let inside = markdown[range].trim();
                        alone = inside.starts_with("![") && !inside.contains('\n');
                    }
                    Tag::Image { dest_url, .. } if !alone || picture(&dest_url).is_none() => {
                        let target = harmless(&dest_url);
                        let complaint = Complaint::Picture { target };
                        problems.push(LessonProblem::at(complaint, place(range)));
                    }
                    Tag::Link { dest_url, .. } if link(&dest_url).is_none() => {
                        let target = harmless(&dest_url);
                        let complaint = match dest_url.strip_prefix("see:") {
                            Some(name) => Complaint::Sight {
                                nearest: nearest_sight(name),
                                target,
                            },
                            None => Complaint::Link { target },
                        };
                        problems.push(LessonProblem::at(complaint, place(range)));
                    }
                    _ => {}
                }
            }
            Event::End(_) => depth = depth.saturating_sub(1),
            _ => {}
        }
    }
    if let Err((complaint, range)) = placeholders(markdown) {
        problems.push(LessonProblem::at(complaint, place(range)));
    }
}

/// Where a link leads, or what it points at.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Target {
    /// A term of the glossary.
    Term(String),
    /// A lesson of the course.
    Lesson(String),
    /// A thing of the bench.
    See(Sight),
}

/// Reads the target of a link; `None` where it leads out of the course.
#[must_use]
pub fn link(target: &str) -> Option<Target> {
    let plain = |name: &str| super::front::is_plain_name(name).then(|| name.to_owned());
    match target.split_once(':')? {
        ("term", name) => plain(name).map(Target::Term),
        ("lesson", name) => plain(name).map(Target::Lesson),
        ("see", name) => Sight::named(name).map(Target::See),
        _ => None,
    }
}

fn nearest_sight(name: &str) -> Option<String> {
    let names = Sight::names();
    super::front::nearest(name, names.iter().map(String::as_str))
}

/// Every link of a text, and its place there.
#[must_use]
pub fn links(markdown: &str) -> Vec<(Target, std::ops::Range<usize>)> {
    events(markdown)
        .filter_map(|(event, range)| match event {
            Event::Start(Tag::Link { dest_url, .. }) => Some((link(&dest_url)?, range)),
            _ => None,
        })
        .collect()
}

/// Every picture of a text, and its place there.
#[must_use]
pub fn pictures(markdown: &str) -> Vec<(PictureWish, std::ops::Range<usize>)> {
    events(markdown)
        .filter_map(|(event, range)| match event {
            Event::Start(Tag::Image { dest_url, .. }) => Some((picture(&dest_url)?, range)),
            _ => None,
        })
        .collect()
}

/// Reads the target of a picture: `machine:slow@12ms`.
#[must_use]
pub fn picture(target: &str) -> Option<PictureWish> {
    let (what, rest) = target.split_once(':')?;
    let what = match what {
        "strips" => PictureKind::Strips,
        "machine" => PictureKind::Machine,
        "bridge" => PictureKind::Bridge,
        "story" => PictureKind::Story,
        _ => return None,
    };
    let (run, at_s) = match rest.split_once('@') {
        None => (rest, None),
        Some((run, time)) => match Value::quantity(time).ok()? {
            Value::Of(time_s, crate::setup::Quantity::Time) => (run, Some(time_s)),
            _ => return None,
        },
    };
    super::front::is_plain_name(run).then(|| PictureWish {
        what,
        run: run.to_owned(),
        at_s,
    })
}

/// Words that a reader reads.
#[must_use]
pub fn n_words(markdown: &str) -> usize {
    events(markdown)
        .map(|(event, _)| match event {
            Event::Text(text) | Event::Code(text) => text
                .split_whitespace()
                .filter(|word| word.contains(char::is_alphanumeric))
                .count(),
            _ => 0,
        })
        .sum()
}

/// A number that the text takes from a run.
#[derive(Clone, Debug, PartialEq)]
pub struct Placeholder {
    /// What is put in.
    pub expression: Condition,
    /// Significant digits.
    pub digits: usize,
    /// A pure number as percent.
    pub percent: bool,
    /// Bytes of the text that it replaces.
    pub place: Place,
}

const OPEN: &str = "{{";
const CLOSE: &str = "}}";
const DIGITS: usize = 3;

/// The placeholders of a text.
///
/// # Errors
/// The first that is wrong, with its place.
pub fn placeholders(text: &str) -> Result<Vec<Placeholder>, (Complaint, std::ops::Range<usize>)> {
    let mut found = Vec::new();
    let mut at = 0;
    while let Some(open) = text[at..].find(OPEN).map(|open| at + open) {
        let inside = open + OPEN.len();
        let Some(length) = text[inside..].find(CLOSE) else {
            return Err((Complaint::OpenPlaceholder, open..inside));
        };
        let end = inside + length + CLOSE.len();
        let wish = &text[inside..inside + length];
        let (expression, after) = split_wish(wish);
        let (mut digits, mut percent) = (DIGITS, false);
        for word in after
            .split(',')
            .map(str::trim)
            .filter(|word| !word.is_empty())
        {
            match (word, word.parse()) {
                ("%", _) => percent = true,
                (_, Ok(n @ 1..=9)) => digits = n,
                _ => {
                    let wanted = "the number of digits or % after the comma";
                    let found = harmless(word);
                    return Err((Complaint::Unexpected { found, wanted }, open..end));
                }
            }
        }
        let lead = expression.len() - expression.trim_start().len();
        let expression = Condition::parse(expression.trim()).map_err(|error: ConditionError| {
            let from = inside + lead + error.place.start;
            let to = (inside + lead + error.place.end).max(from);
            (error.complaint, from..to.min(end))
        })?;
        found.push(Placeholder {
            expression,
            digits,
            percent,
            place: Place { start: open, end },
        });
        at = end;
    }
    Ok(found)
}

/// Expression and what follows the first comma outside parentheses.
fn split_wish(wish: &str) -> (&str, &str) {
    let mut depth = 0_i32;
    for (at, c) in wish.char_indices() {
        match c {
            '(' => depth += 1,
            ')' => depth -= 1,
            ',' if depth == 0 => return (&wish[..at], &wish[at + 1..]),
            _ => {}
        }
    }
    (wish, "")
}

/// The text with each placeholder replaced by what `put_in` says.
///
/// # Errors
/// The first that cannot be, with its place in the text.
pub fn filled(
    text: &str,
    put_in: &mut dyn FnMut(&Placeholder) -> Result<String, Complaint>,
) -> Result<String, (Complaint, std::ops::Range<usize>)> {
    let mut out = String::with_capacity(text.len());
    let mut at = 0;
    for wish in placeholders(text)? {
        out.push_str(&text[at..wish.place.start]);
        let words =
            put_in(&wish).map_err(|complaint| (complaint, wish.place.start..wish.place.end))?;
        out.push_str(&words);
        at = wish.place.end;
    }
    out.push_str(&text[at..]);
    Ok(out)
}

/// Plain lines for a terminal, at most `width` characters wide where words allow it.
#[must_use]
pub fn plain(markdown: &str, width: usize) -> String {
    let mut page = Plain {
        out: String::new(),
        line: String::new(),
        width,
        indent: Vec::new(),
        bullet: None,
        cell: false,
    };
    for (event, _) in events(markdown) {
        page.event(event);
    }
    page.flush();
    printable(page.out.trim_end())
}

struct Plain {
    out: String,
    line: String,
    width: usize,
    /// For each list that is open, the next number, or none for dashes.
    indent: Vec<Option<u64>>,
    bullet: Option<String>,
    cell: bool,
}

impl Plain {
    fn event(&mut self, event: Event<'_>) {
        match event {
            Event::Text(text) => self.line.push_str(&text),
            Event::Code(text) => {
                self.line.push('`');
                self.line.push_str(&text);
                self.line.push('`');
            }
            Event::SoftBreak => self.line.push(' '),
            Event::HardBreak => self.flush(),
            Event::Rule => {
                self.flush();
                self.out.push_str("\n----\n");
            }
            Event::Start(tag) => match tag {
                Tag::Heading { .. } | Tag::Paragraph if self.bullet.is_none() => self.gap(),
                Tag::List(first) => {
                    self.flush();
                    if self.indent.is_empty() {
                        self.gap();
                    }
                    self.indent.push(first);
                }
                Tag::Item => {
                    self.flush();
                    self.bullet = Some(match self.indent.last_mut() {
                        Some(Some(n)) => {
                            *n += 1;
                            format!("{}. ", *n - 1)
                        }
                        _ => "- ".to_owned(),
                    });
                }
                Tag::Table(_) => self.gap(),
                Tag::TableHead | Tag::TableRow => self.cell = false,
                Tag::TableCell if std::mem::replace(&mut self.cell, true) => {
                    self.line.push_str(" | ");
                }
                Tag::CodeBlock(_) => self.gap(),
                Tag::Image { .. } => self.line.push_str("[picture: "),
                _ => {}
            },
            Event::End(end) => match end {
                TagEnd::Heading(_) => {
                    let n = self.line.chars().count();
                    self.flush();
                    self.out.push_str(&"-".repeat(n.min(self.width)));
                    self.out.push('\n');
                }
                TagEnd::Image => self.line.push(']'),
                TagEnd::List(_) => {
                    self.flush();
                    self.indent.pop();
                }
                TagEnd::Paragraph
                | TagEnd::Item
                | TagEnd::TableHead
                | TagEnd::TableRow
                | TagEnd::CodeBlock => {
                    self.flush();
                }
                _ => {}
            },
            _ => {}
        }
    }

    fn gap(&mut self) {
        self.flush();
        if !self.out.is_empty() {
            self.out.push('\n');
        }
    }

    fn flush(&mut self) {
        let line = std::mem::take(&mut self.line);
        if line.trim().is_empty() {
            return;
        }
        let deep = " ".repeat(2 * self.indent.len().saturating_sub(1));
        let bullet = self.bullet.take().unwrap_or_default();
        let lead = if self.indent.is_empty() {
            String::new()
        } else {
            " ".repeat(bullet.chars().count().max(2))
        };
        for piece in line.split('\n') {
            let mut row = format!("{deep}{bullet}");
            let mut empty = true;
            for word in piece.split_whitespace() {
                if !empty && row.chars().count() + 1 + word.chars().count() > self.width {
                    self.out.push_str(row.trim_end());
                    self.out.push('\n');
                    row = format!("{deep}{lead}");
                    empty = true;
                }
                if !empty {
                    row.push(' ');
                }
                row.push_str(word);
                empty = false;
            }
            self.out.push_str(row.trim_end());
            self.out.push('\n');
        }
    }
}

/// A text without Markdown, in one line.
#[must_use]
pub fn bare(markdown: &str) -> String {
    let mut out = String::new();
    for (event, _) in events(markdown) {
        match event {
            Event::Text(text) | Event::Code(text) => out.push_str(&text),
            Event::SoftBreak | Event::HardBreak | Event::End(TagEnd::Paragraph) => out.push(' '),
            _ => {}
        }
    }
    printable(out.trim())
}

/// Text that is no Markdown: every mark with a meaning has a backslash before it.
#[must_use]
pub fn literal(text: &str) -> CowStr<'static> {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        if c.is_ascii_punctuation() && !matches!(c, '.' | ',' | '-' | '%' | '/') {
            out.push('\\');
        }
        out.push(c);
    }
    out.into()
}
