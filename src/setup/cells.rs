//! The cells of comma-separated values, each with its place.
//!
//! Cells follow RFC 4180: a cell with a comma or a line end in it stands in double quotes, and a
//! quote in it is doubled. Blank lines and lines that begin with `#` are skipped. A file whose
//! first line has semicolons or tabs and no comma is read with those. This is read here, and not
//! by a library for such files, because a mistake is shown with the place of its cell.

use super::problem::{Place, Problem};

/// One cell and where it stands in the text.
#[derive(Clone, Debug)]
pub(super) struct Cell {
    pub(super) text: String,
    pub(super) place: Place,
}

/// One line that holds something.
#[derive(Clone, Debug)]
pub(super) struct Line {
    /// Counted from 1.
    pub(super) number: usize,
    pub(super) cells: Vec<Cell>,
}

/// A problem in words of its own.
pub(super) fn told(reason: String, remedy: String, places: Vec<(Place, String)>) -> Problem {
    Problem::Contradiction {
        reason,
        remedy,
        places,
    }
}

/// The lines that hold something, cell by cell.
pub(super) fn lines_of(text: &str) -> Result<Vec<Line>, Problem> {
    let skipped = |line: &str| line.trim().is_empty() || line.trim_start().starts_with('#');
    let head = text.lines().find(|line| !skipped(line)).unwrap_or("");
    let separator = [',', ';', '\t']
        .into_iter()
        .find(|separator| head.contains(*separator))
        .unwrap_or(',');
    let mut lines = Vec::new();
    let (mut at, mut number) = (0, 1);
    while at < text.len() {
        let end = text[at..].find('\n').map_or(text.len(), |end| at + end);
        if skipped(&text[at..end]) {
            at = end + 1;
            number += 1;
            continue;
        }
        let (cells, next) = cells_of(text, at, separator, number)?;
        let n_ends = text[at..next].bytes().filter(|byte| *byte == b'\n').count();
        if cells.iter().any(|cell| !cell.text.is_empty()) {
            lines.push(Line { number, cells });
        }
        at = next;
        number += n_ends;
    }
    Ok(lines)
}

/// The cells of the line that begins at a place, and where the next line begins.
fn cells_of(
    text: &str,
    mut at: usize,
    separator: char,
    line: usize,
) -> Result<(Vec<Cell>, usize), Problem> {
    let mut cells = Vec::new();
    let is_end = |c: char| c == separator || c == '\n';
    loop {
        let blank = |c: char| c.is_whitespace() && !is_end(c);
        let start = at + text[at..].find(|c| !blank(c)).unwrap_or(text.len() - at);
        let end = if text[start..].starts_with('"') {
            let (content, close) = quoted_cell(text, start).ok_or_else(|| {
                told(
                    format!("line {line}: a double quote is opened and not closed"),
                    "close it, or leave it out; a quote within quotes is doubled".to_owned(),
                    vec![(
                        Place {
                            start,
                            end: start + 1,
                        },
                        "opened here".to_owned(),
                    )],
                )
            })?;
            let rest = &text[close..];
            let end = close + rest.find(is_end).unwrap_or(rest.len());
            if !text[close..end].trim().is_empty() {
                return Err(told(
                    format!("line {line}: something stands behind a closing quote"),
                    "a cell is quoted as a whole; a quote within quotes is doubled".to_owned(),
                    vec![(Place { start: close, end }, "this".to_owned())],
                ));
            }
            cells.push(Cell {
                text: content.trim().to_owned(),
                place: Place { start, end: close },
            });
            end
        } else {
            let end = start + text[start..].find(is_end).unwrap_or(text.len() - start);
            let content = text[start..end].trim_end();
            cells.push(Cell {
                text: content.to_owned(),
                place: Place {
                    start,
                    end: start + content.len(),
                },
            });
            end
        };
        match text[end..].chars().next() {
            Some('\n') => return Ok((cells, end + 1)),
            Some(c) => at = end + c.len_utf8(),
            None => return Ok((cells, text.len())),
        }
    }
}

/// What stands in the quotes that open at a place, and where they have closed.
fn quoted_cell(text: &str, open: usize) -> Option<(String, usize)> {
    let mut content = String::new();
    let mut at = open + 1;
    loop {
        let close = at + text[at..].find('"')?;
        content.push_str(&text[at..close]);
        at = close + 1;
        if !text[at..].starts_with('"') {
            return Some((content, at));
        }
        content.push('"');
        at += 1;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(text: &str) -> Vec<(usize, Vec<String>)> {
        lines_of(text)
            .unwrap()
            .into_iter()
            .map(|line| {
                (
                    line.number,
                    line.cells.into_iter().map(|cell| cell.text).collect(),
                )
            })
            .collect()
    }

    /// The six rules of RFC 4180, section 2, and what this reader adds to them.
    #[test]
    fn cells_are_those_of_the_standard() {
        let row = |number, cells: &[&str]| {
            (
                number,
                cells
                    .iter()
                    .map(|cell| (*cell).to_owned())
                    .collect::<Vec<_>>(),
            )
        };
        let plain = [
            row(1, &["aaa", "bbb", "ccc"]),
            row(2, &["zzz", "yyy", "xxx"]),
        ];
        assert_eq!(words("aaa,bbb,ccc\r\nzzz,yyy,xxx\r\n"), plain);
        assert_eq!(words("aaa,bbb,ccc\nzzz,yyy,xxx"), plain);
        assert_eq!(words("\"aaa\",\"bbb\",\"ccc\"\nzzz,yyy,xxx"), plain);
        assert_eq!(words("aaa;bbb;ccc\nzzz;yyy;xxx"), plain);
        assert_eq!(
            words("# parts\n\n\"aaa\",\"b \r\nbb\",\"c\"\"cc\"\n ,,\nzzz"),
            [row(3, &["aaa", "b \r\nbb", "c\"cc"]), row(6, &["zzz"])]
        );
        assert_eq!(words(""), []);
        assert!(lines_of("a,\"b\n").is_err());
        assert!(lines_of("a,\"b\" c\n").is_err());
    }

    #[test]
    fn a_place_is_that_of_its_cell() {
        let text = "a, \"b c\" ,d\n";
        let cells = &lines_of(text).unwrap()[0].cells;
        let marked: Vec<&str> = cells
            .iter()
            .map(|cell| &text[cell.place.start..cell.place.end])
            .collect();
        assert_eq!(marked, ["a", "\"b c\"", "d"]);
    }
}
