//! A setup as one word that fits into the address of a page, and back.
//!
//! ```text
//! text ─► zlib (RFC 1950) ─► base64url without padding (RFC 4648, section 5) ─► "1." + that
//! ```
//!
//! The number before the dot is the version of this scheme: a later one gets another number, and
//! links that are out in the world keep their meaning. A link comes from anybody, so nothing in it
//! is believed: its length is bounded, what it unpacks to is bounded while it is unpacked, the
//! checksum of zlib tells a link that was cut off or mistyped, and the text that comes out is read
//! as any file is.

use base64::Engine as _;
use base64::engine::general_purpose::URL_SAFE_NO_PAD;
use miniz_oxide::deflate::compress_to_vec_zlib;
use miniz_oxide::inflate::{TINFLStatus, decompress_to_vec_zlib_with_limit};

use super::MAX_TEXT_BYTES;

/// What every word of this version begins with.
const VERSION: &str = "1";
/// Most characters of a word. Browsers bear more; what passes such a word on often does not.
pub const MAX_LINK_CHARS: usize = 32 * 1024;
/// How hard the text is pressed, of 10: it is short and done once.
const LEVEL: u8 = 9;

/// Why a setup cannot be put into a link, or not be had out of one.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum LinkError {
    /// The word is too long.
    TooLong {
        /// Characters of it.
        n_chars: usize,
    },
    /// It is of another version, or of none.
    Version {
        /// What stands before the dot, in its first characters.
        found: String,
    },
    /// It does not unpack: cut off or mistyped.
    Damaged,
    /// It unpacks to more than a setup can have.
    TooLarge,
    /// What it unpacks to is not text.
    NotText,
}

impl std::fmt::Display for LinkError {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::TooLong { n_chars } => write!(
                f,
                "The setup takes {n_chars} characters, and a link has {MAX_LINK_CHARS} at most; pass \
                 it on as a file."
            ),
            Self::Version { found } => write!(
                f,
                "The setup in the link begins with “{found}”, where “{VERSION}.” says how it is \
                 written; the link may be from a later Wyebench, or not whole."
            ),
            Self::Damaged => write!(
                f,
                "The setup in the link is damaged: it was cut off or changed on its way. Copy the \
                 whole link once more."
            ),
            Self::TooLarge => write!(
                f,
                "The setup in the link unpacks to more than {MAX_TEXT_BYTES} bytes, the most that a \
                 setup has; this is not one."
            ),
            Self::NotText => write!(f, "What is in the link is not text; this is not a setup."),
        }
    }
}

impl std::error::Error for LinkError {}

/// The word that stands for a text.
///
/// # Errors
/// [`LinkError::TooLong`], [`LinkError::TooLarge`].
pub fn to_link(text: &str) -> Result<String, LinkError> {
    if text.len() > MAX_TEXT_BYTES {
        return Err(LinkError::TooLarge);
    }
    let packed = URL_SAFE_NO_PAD.encode(compress_to_vec_zlib(text.as_bytes(), LEVEL));
    let word = format!("{VERSION}.{packed}");
    if word.len() > MAX_LINK_CHARS {
        return Err(LinkError::TooLong {
            n_chars: word.len(),
        });
    }
    Ok(word)
}

/// The text that a word stands for. What it says is not looked at here.
///
/// # Errors
/// Every [`LinkError`].
pub fn from_link(word: &str) -> Result<String, LinkError> {
    // bytes bound characters, and are known at once
    if word.len() > MAX_LINK_CHARS {
        return Err(LinkError::TooLong {
            n_chars: word.len(),
        });
    }
    let packed = word
        .split_once('.')
        .filter(|(version, _)| *version == VERSION)
        .map(|(_, packed)| packed)
        .ok_or_else(|| LinkError::Version {
            found: word.chars().take(8).collect(),
        })?;
    let packed = URL_SAFE_NO_PAD
        .decode(packed)
        .map_err(|_| LinkError::Damaged)?;
    let bytes =
        decompress_to_vec_zlib_with_limit(&packed, MAX_TEXT_BYTES).map_err(|error| match error
            .status
        {
            TINFLStatus::HasMoreOutput => LinkError::TooLarge,
            _ => LinkError::Damaged,
        })?;
    String::from_utf8(bytes).map_err(|_| LinkError::NotText)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;
    use crate::setup::{Setup, built_in};

    #[test]
    fn a_setup_comes_back_from_its_link() {
        let setup = Setup::parse(built_in(), "built in").unwrap();
        let word = to_link(&setup.to_toml()).unwrap();
        assert!(word.len() < 1_500, "{} characters", word.len());
        let fits = |c: char| c.is_ascii_alphanumeric() || "-_.".contains(c);
        assert!(word.chars().all(fits), "{word}");
        let text = from_link(&word).unwrap();
        assert_eq!(Setup::parse(&text, "link").unwrap(), setup);
    }

    /// Made with Python's `zlib.compress(text, 9)` and
    /// `base64.urlsafe_b64encode`, the padding taken off.
    #[test]
    fn another_program_writes_and_reads_the_same() {
        assert_eq!(
            from_link("1.eNpLyy_KTSxRsFUwBAAUqgM4").unwrap(),
            "format = 1"
        );
    }

    #[test]
    fn a_link_of_another_kind_is_refused_in_words() {
        let word = to_link(built_in()).unwrap();
        let version = |found: &str| {
            Err(LinkError::Version {
                found: found.to_owned(),
            })
        };
        assert_eq!(from_link(""), version(""));
        assert_eq!(from_link("2.eNpLyy"), version("2.eNpLyy"));
        assert_eq!(from_link(&word[2..]), version(&word[2..10]));
        assert_eq!(from_link("1.no spaces"), Err(LinkError::Damaged));
        assert_eq!(from_link("1.eNpLyy=="), Err(LinkError::Damaged));
        assert_eq!(from_link("1."), Err(LinkError::Damaged));
        assert_eq!(
            from_link(&word[..word.len() - 4]),
            Err(LinkError::Damaged),
            "cut off"
        );
        let n_chars = MAX_LINK_CHARS + 1;
        assert_eq!(
            from_link(&"1".repeat(n_chars)),
            Err(LinkError::TooLong { n_chars })
        );
    }

    /// One mistyped character is told by the checksum, wherever it stands.
    #[test]
    fn one_other_character_is_noticed() {
        let word = to_link(built_in()).unwrap();
        for at in (2..word.len()).step_by(7) {
            let other = if &word[at..=at] == "A" { "B" } else { "A" };
            let changed = format!("{}{other}{}", &word[..at], &word[at + 1..]);
            assert_ne!(from_link(&changed).ok().as_deref(), Some(""), "at {at}");
            assert!(
                from_link(&changed).is_err(),
                "at {at}, of {} characters",
                word.len()
            );
        }
    }

    /// 20 MB of zeros are 20 kB in a link.
    #[test]
    fn what_swells_is_stopped_at_the_limit() {
        let bomb = compress_to_vec_zlib(&vec![b'#'; 20 << 20], 10);
        let word = format!("1.{}", URL_SAFE_NO_PAD.encode(&bomb));
        assert!(word.len() < MAX_LINK_CHARS, "{}", word.len());
        assert_eq!(from_link(&word), Err(LinkError::TooLarge));
        let most = "#".repeat(MAX_TEXT_BYTES);
        assert_eq!(from_link(&to_link(&most).unwrap()).unwrap(), most);
        assert_eq!(to_link(&format!("{most}#")), Err(LinkError::TooLarge));
    }

    proptest! {
        #[test]
        fn any_text_comes_back(text in "\\PC{0,600}") {
            prop_assert_eq!(from_link(&to_link(&text).unwrap()).unwrap(), text);
        }

        #[test]
        fn any_bytes_are_read_or_refused(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
            let _ = from_link(&format!("1.{}", URL_SAFE_NO_PAD.encode(&bytes)));
            // with a right beginning they get farther into the unpacking
            let mut begun = compress_to_vec_zlib(built_in().as_bytes(), 9);
            begun.truncate(60);
            begun.extend(&bytes);
            let refused = from_link(&format!("1.{}", URL_SAFE_NO_PAD.encode(&begun)));
            prop_assert!(refused.is_err());
        }
    }

    #[test]
    fn bytes_that_are_no_text_are_refused() {
        let word = URL_SAFE_NO_PAD.encode(compress_to_vec_zlib(&[0xff, 0xfe, 0x00], 9));
        assert_eq!(from_link(&format!("1.{word}")), Err(LinkError::NotText));
    }
}
