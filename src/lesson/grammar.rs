//! From the words of a condition to its tree, by the grammar on the page of
//! [`super::condition`].

use super::condition::{ConditionError, Function, Kind, Node, Sign, tolerance};
use super::problem::Complaint;
use super::tokens::{Token, WORDS, What, tokens};
use crate::setup::Place;

/// Deepest nesting of a condition.
const DEEPEST: usize = 24;

pub(super) struct Parser<'a> {
    text: &'a str,
    tokens: Vec<Token>,
    next: usize,
    depth: usize,
}

impl<'a> Parser<'a> {
    /// At the start of a text.
    pub(super) fn new(text: &'a str) -> Result<Self, ConditionError> {
        Ok(Self {
            text,
            tokens: tokens(text)?,
            next: 0,
            depth: 0,
        })
    }

    /// The whole text as one condition.
    pub(super) fn whole(mut self) -> Result<Node, ConditionError> {
        let node = self.condition()?;
        match self.tokens.get(self.next) {
            None => Ok(node),
            Some(_) => Err(self.wrong("`and`, `or` or the end")),
        }
    }

    fn sign(&self) -> Option<&'static str> {
        match self.tokens.get(self.next)?.what {
            What::Sign(sign) => Some(sign),
            _ => None,
        }
    }

    fn takes_sign(&mut self, wanted: &str) -> bool {
        let is = self.sign() == Some(wanted);
        self.next += usize::from(is);
        is
    }

    fn takes_word(&mut self, wanted: &str) -> bool {
        let is = matches!(self.tokens.get(self.next), Some(Token { what: What::Name(name), .. }) if name == wanted);
        self.next += usize::from(is);
        is
    }

    fn wrong(&self, wanted: &'static str) -> ConditionError {
        let (found, place) = self.tokens.get(self.next).map_or_else(
            || {
                let end = self.text.len();
                ("the end".to_owned(), Place { start: end, end })
            },
            |token| {
                let Place { start, end } = token.place;
                (format!("`{}`", &self.text[start..end]), token.place)
            },
        );
        ConditionError {
            complaint: Complaint::Unexpected { found, wanted },
            place,
        }
    }

    fn deeper(&mut self) -> Result<(), ConditionError> {
        self.depth += 1;
        if self.depth > DEEPEST {
            return Err(ConditionError {
                complaint: Complaint::TooDeep { allowed: DEEPEST },
                place: Place {
                    start: 0,
                    end: self.text.len(),
                },
            });
        }
        Ok(())
    }

    fn joined(kind: Kind, left: Place, right: Place) -> Node {
        Node {
            kind,
            place: Place {
                start: left.start,
                end: right.end,
            },
        }
    }

    fn condition(&mut self) -> Result<Node, ConditionError> {
        self.deeper()?;
        let mut left = self.clause()?;
        while self.takes_word("or") {
            let right = self.clause()?;
            let (l, r) = (left.place, right.place);
            left = Self::joined(Kind::Either(Box::new(left), Box::new(right)), l, r);
        }
        self.depth -= 1;
        Ok(left)
    }

    fn clause(&mut self) -> Result<Node, ConditionError> {
        let mut left = self.term()?;
        while self.takes_word("and") {
            let right = self.term()?;
            let (l, r) = (left.place, right.place);
            left = Self::joined(Kind::Both(Box::new(left), Box::new(right)), l, r);
        }
        Ok(left)
    }

    fn term(&mut self) -> Result<Node, ConditionError> {
        if !self.takes_word("not") {
            return self.comparison();
        }
        self.deeper()?;
        let inner = self.term()?;
        self.depth -= 1;
        let place = inner.place;
        Ok(Self::joined(Kind::Not(Box::new(inner)), place, place))
    }

    fn comparison(&mut self) -> Result<Node, ConditionError> {
        let left = self.sum()?;
        let sign = match self.sign() {
            Some("<") => Sign::Less,
            Some(">") => Sign::Greater,
            Some("<=") => Sign::AtMost,
            Some(">=") => Sign::AtLeast,
            Some("=") => Sign::Equal,
            _ => return Ok(left),
        };
        self.next += 1;
        let right = self.sum()?;
        let within = if self.takes_word("within") {
            match self.tokens.get(self.next).map(|token| &token.what) {
                Some(What::Number { value, percent }) => {
                    let found = tolerance(*value, *percent);
                    self.next += 1;
                    Some(found)
                }
                _ => return Err(self.wrong("a tolerance such as `2 %` or `5 rpm`")),
            }
        } else {
            None
        };
        let (l, r) = (left.place, right.place);
        if sign == Sign::Equal && within.is_none() {
            return Err(ConditionError {
                complaint: Complaint::NoTolerance,
                place: Place {
                    start: l.start,
                    end: r.end,
                },
            });
        }
        let kind = Kind::Compare {
            sign,
            left: Box::new(left),
            right: Box::new(right),
            within,
        };
        Ok(Self::joined(kind, l, r))
    }

    fn sum(&mut self) -> Result<Node, ConditionError> {
        let mut left = self.product()?;
        while let Some(sign @ ("+" | "-")) = self.sign() {
            self.next += 1;
            let right = self.product()?;
            left = Self::arithmetic(sign, left, right);
        }
        Ok(left)
    }

    fn product(&mut self) -> Result<Node, ConditionError> {
        let mut left = self.factor()?;
        while let Some(sign @ ("*" | "/")) = self.sign() {
            self.next += 1;
            let right = self.factor()?;
            left = Self::arithmetic(sign, left, right);
        }
        Ok(left)
    }

    fn arithmetic(sign: &str, left: Node, right: Node) -> Node {
        let sign = sign.chars().next().unwrap_or('+');
        let (l, r) = (left.place, right.place);
        Self::joined(
            Kind::Arithmetic(sign, Box::new(left), Box::new(right)),
            l,
            r,
        )
    }

    fn factor(&mut self) -> Result<Node, ConditionError> {
        const WANTED: &str = "a figure or a number with its unit";
        let Some(token) = self.tokens.get(self.next).cloned() else {
            return Err(self.wrong(WANTED));
        };
        let plain = |kind| Node {
            kind,
            place: token.place,
        };
        match token.what {
            What::Number { value, .. } => {
                self.next += 1;
                Ok(plain(Kind::Literal(value)))
            }
            What::Name(name) if WORDS.contains(&name.as_str()) => Err(self.wrong(WANTED)),
            What::Name(name) => {
                self.next += 1;
                if !self.takes_sign("(") {
                    return Ok(plain(Kind::Fact(name)));
                }
                let Some(function) = Function::named(&name) else {
                    return Err(ConditionError {
                        complaint: Complaint::UnknownFunction { name },
                        place: token.place,
                    });
                };
                self.deeper()?;
                let mut inner = vec![self.sum()?];
                while self.takes_sign(",") {
                    inner.push(self.sum()?);
                }
                self.depth -= 1;
                if !self.takes_sign(")") {
                    return Err(self.wrong("`)`"));
                }
                Ok(plain(Kind::Call(function, inner)))
            }
            What::Sign("(") => {
                self.next += 1;
                let inner = self.condition()?;
                if !self.takes_sign(")") {
                    return Err(self.wrong("`)`"));
                }
                Ok(inner)
            }
            What::Sign("-") => {
                self.next += 1;
                self.deeper()?;
                let inner = self.factor()?;
                self.depth -= 1;
                Ok(plain(Kind::Negative(Box::new(inner))))
            }
            What::Sign(_) => Err(self.wrong(WANTED)),
        }
    }
}
