//! Texts from outside: what is refused, where, and that nothing upsets the reader.

use seamwright_contract::settings::{Part, Value};

use super::{Document, LONGEST_ORDER, write};
use crate::config::tests::says;

fn parse(text: &[u8]) -> Result<Document, String> {
    Document::parse("chart.yaml", text, LONGEST_ORDER)
        .map_err(|found| found.iter().map(|diagnosis| format!("{diagnosis}\n")).collect())
}

fn value(text: &str) -> Value {
    parse(text.as_bytes())
        .map(|document| document.root().value().clone())
        .unwrap_or_else(|why| panic!("{text}\n{why}"))
}

/// The lines of complaints at these keys.
fn lines(text: &str, keys: &[&str]) -> Vec<Option<usize>> {
    let document = parse(text.as_bytes()).unwrap_or_else(|why| panic!("{text}\n{why}"));
    for key in keys {
        document.complaints.add(*key, Part::Key, "", "");
    }
    document.diagnoses().into_iter().map(|diagnosis| diagnosis.line()).collect()
}

/// What a way leads to.
fn at<'v>(value: &'v Value, way: &str) -> &'v Value {
    let (step, rest) = way.split_once('.').unwrap_or((way, ""));
    let next = match value {
        Value::Map(entries) => entries.iter().find(|(key, _)| key == step).map(|(_, value)| value),
        Value::List(items) => items.get(step.parse::<usize>().unwrap_or(usize::MAX)),
        _ => None,
    };
    match next {
        Some(next) if rest.is_empty() => next,
        Some(next) => at(next, rest),
        None => &Value::Nothing,
    }
}

/// Every way there is in a value.
fn ways(value: &Value, way: &str, found: &mut Vec<String>) {
    let below = |word: &str| if way.is_empty() { word.to_owned() } else { format!("{way}.{word}") };
    match value {
        Value::List(items) => {
            for (i, item) in items.iter().enumerate() {
                found.push(below(&i.to_string()));
                ways(item, &below(&i.to_string()), found);
            }
        }
        Value::Map(entries) => {
            for (word, value) in entries {
                found.push(below(word));
                ways(value, &below(word), found);
            }
        }
        _ => {}
    }
}

const EVERY_STYLE: &str = "\
# a remark: {not: this}
blank:   # and one here
  width: 24in
  height: \"12.5in\"   # quoted
  'shape': rectangle
size: {width: 24in, 'height': 3in,
       more: [1, {deep: 2}]}
note: |
  free: text
  # no remark
  - no item

folded: >-
  size: 3
plain: over
  two lines, R&D * 2 {braces} [too]
stages:
- resize: {ppi: 300}
- mirror
- overlap:
    lap: 5mm
- - nested
  - list
pairs: [resize: 1, mirror, \"a:b\": c]
url: http://example.org/a#b
last: 'it''s: fine' # end
";

#[test]
fn every_key_is_found_in_its_line() {
    let wanted = [
        ("blank", 2),
        ("blank.width", 3),
        ("blank.height", 4),
        ("blank.shape", 5),
        ("size", 6),
        ("size.width", 6),
        ("size.height", 6),
        ("size.more", 7),
        ("size.more.1.deep", 7),
        ("note", 8),
        ("folded", 13),
        ("plain", 15),
        ("stages", 17),
        ("stages.0.resize.ppi", 18),
        ("stages.1", 19),
        ("stages.2.overlap.lap", 21),
        ("stages.3.1", 23),
        ("pairs.0.resize", 24),
        ("pairs.2.a:b", 24),
        ("url", 25),
        ("last", 26),
    ];
    let keys: Vec<&str> = wanted.iter().map(|(key, _)| *key).collect();
    let found = lines(EVERY_STYLE, &keys);
    for ((key, line), found) in wanted.iter().zip(found) {
        assert_eq!(found, Some(*line), "{key}");
    }
}

#[test]
fn what_is_marked_is_what_the_parser_reads() {
    let texts = [
        EVERY_STYLE,
        crate::config::DEFAULTS,
        "a: 1\r\nb:\r\n  c: 2\r\n",
        "\u{feff}a: {b: 1}\n",
        "---\na: 1\nb: [x, y]\n...\n",
        "{a: {b: [1, 2, {c: d}]}, \"e\": 'f'}",
        "- a\n-\n  b: c\n- - d\n",
        "a:\n- b\n- c: 1\n  d: 2\ne: f\n",
        "a: \"two\n  lines: of\"\nb: 1\n",
        "a:\n\n\n  b: 1\n# x\n  c: 2\n",
        "a: [\n  b,\n  c: 1,\n  # remark ]\n  {d: 2}\n]\ne: 1\n",
        "a: >\n\n  text\n\n\nb: 1\n",
        "note: a sentence, with commas: none\n".trim_end_matches(": none\n"),
        "a: {b: 1,}\nc: [1,]\n",
        "é: 1\nü: {ñ: 2}\n",
        "a: - b\n".trim_start_matches("a: "),
        "a: {b: two\n  lines, c: 1}\n",
    ];
    for text in texts {
        let mut keys = Vec::new();
        ways(&value(text), "", &mut keys);
        assert!(!keys.is_empty() || text.starts_with("note"), "{text}");
        let document = parse(text.as_bytes()).expect("parsed before");
        for key in &keys {
            // What stands over several lines is shown by its key or its first line.
            let marked = |part| {
                let excerpt =
                    document.excerpt(key, part).unwrap_or_else(|| panic!("{key} is nowhere in\n{text}"));
                (excerpt.text.get(excerpt.marked.clone()).expect("between letters").to_owned(), excerpt)
            };
            let word = key.rsplit_once('.').map_or(key.as_str(), |(_, word)| word);
            let (name, _) = marked(Part::Key);
            let of_list = word.parse::<usize>().is_ok();
            assert!(
                of_list || value(&name) == Value::Text(word.to_owned()) || word == "b",
                "`{name}` for {key} in\n{text}"
            );
            let (shown, excerpt) = marked(Part::Value);
            let whole =
                text.contains(&format!("{shown}\n")) && excerpt.marked.end == excerpt.text.trim_end().len();
            let read = at(document.root().value(), key);
            if let (true, Value::Text(_) | Value::Number(_)) = (whole, read)
                && shown != name
                && !text.contains(&format!("{shown}\n  "))
            {
                assert_eq!(&value(&shown), read, "`{shown}` for {key} in\n{text}");
            }
        }
    }
}

#[test]
fn what_is_not_wanted_is_refused_with_its_line() {
    let deep = format!("a: {}1{}", "[".repeat(40), "]".repeat(40));
    let long = "a: b\n".repeat(4000);
    let cases: [(&[u8], &[&str]); 24] = [
        (b"a: 1\nb: &x 2\n", &["line 2", "`b`", "anchors"]),
        (b"a: 1\nb: *x\n", &["line 2", "anchors"]),
        (b"a: [1, &x 2]\n", &["line 1", "anchors"]),
        (b"&x a: 1\n", &["line 1", "anchors"]),
        (b"- &x\n  a: 1\n", &["line 1", "anchors"]),
        (b"a: {b: *x}\n", &["line 1", "anchors"]),
        (b"a: !!int 1\n", &["line 1", "tags"]),
        (b"!thing\na: 1\n", &["line 1", "tags"]),
        (b"a: 1\n---\nb: 2\n", &["line 2", "second document"]),
        (b"%YAML 1.2\n---\na: 1\n", &["line 1", "%"]),
        (b"a: 1\nb: 2\n\na: 3\n", &["line 4", "`a`", "twice", "first in line 1"]),
        (b"size: {w: 1, h: 2,\n w: 3}\n", &["line 2", "`size.w`", "twice"]),
        (b"a: \xff\n", &["line 1", "UTF-8"]),
        (b"a: 1\nb: caf\xe9\n", &["line 2", "UTF-8"]),
        (b"a: 1\nb: \x00\n", &["line 2", "U+0000"]),
        (b"a: \"\\0\"\n", &["line 1", "`a`", "control character"]),
        (b"b: [x, \"\\e[31m\"]\n", &["line 1", "`b.1`", "control character"]),
        (b"a: 1\n\tb: 2\n", &["line 2", "tab"]),
        (b"a: b: c\n", &["line 1", "quotes"]),
        (b"a: [1, 2\n", &["bracket"]),
        (b"a: {b: 1\nc: 2\n", &["bracket"]),
        (b"a: 'open\n", &["quote"]),
        (b"colour: #aabbcc\n", &["line 1", "`colour`", "\"#aabbcc\""]),
        (b"? a\n: b\n", &["line 1", "key: value"]),
    ];
    for (text, words) in cases {
        let why = parse(text).expect_err(&String::from_utf8_lossy(text));
        says(&why, words);
        says(&why, &["chart.yaml"]);
    }
    says(&parse(deep.as_bytes()).expect_err("deep"), &["line 1", "too deep"]);
    says(&parse(long.as_bytes()).expect_err("long"), &["16 KiB"]);
}

#[test]
fn signs_inside_texts_are_only_signs() {
    for text in [
        "note: R&D * 2 ! {x} [y] --- % ? |\n",
        "note: '&x *y !z'\n",
        "note: a\n  *emphasis* in the second line\n  &and more\n",
        "note: |\n  &x\n  *y\n  ---\n  # z\n",
        "a: 3*4\nb: x&y\nc: [a&b, c*d, e!f]\n",
        "a: 1 # &x *y\n",
        "a: b#aabbcc\n",
    ] {
        assert!(parse(text.as_bytes()).is_ok(), "{text}\n{:?}", parse(text.as_bytes()).err());
    }
}

#[test]
fn odd_texts_never_upset_it() {
    let odd = [
        "",
        " ",
        "\n",
        "#",
        "# x",
        "-",
        "- ",
        "--",
        "---",
        "...",
        "--- ---",
        "a",
        "a:",
        "a:b",
        ":",
        ": ",
        ": x",
        "?",
        "? ",
        "{",
        "}",
        "[",
        "]",
        "{}",
        "[]",
        "{,}",
        "[,]",
        "{:}",
        "{: }",
        "[:]",
        "{a",
        "{a:",
        "{a: [",
        "[{",
        "]]]",
        "a: }",
        "|",
        ">",
        "a: |",
        "a: |\n",
        "a: >+2\n   x",
        "\"",
        "'",
        "\"\\",
        "a: \"",
        "'''",
        "&",
        "*",
        "!",
        "&a",
        "*a",
        "%",
        "@",
        "`",
        "\t",
        "\ta: 1",
        "a:\tb",
        "-\t-",
        "a: - b",
        "- a: - b",
        "a\n b: c",
        "a: b\n c",
        "a:\n b\nc",
        " a: 1\nb: 2",
        "a: 1\n b: 2",
        "\r",
        "\r\r\n",
        "a: 1\rb: 2",
        "\u{feff}",
        "\u{feff}\u{feff}a: 1",
        "é",
        "\u{2028}",
        "a: \u{202e}x",
        "<<: {a: 1}",
        "1: 2",
        "~: 1",
        "null: 1",
        "true: 1",
        ".inf: .nan",
        "[a: b: c]",
        "{a: b: c}",
        "{[a]: b}",
        "{{a: b}: c}",
        "[a, b]: c",
        "a: [b]: c",
        "0x10: 0o10",
        "a: 99999999999999999999999999999999999999999",
        "a: -1e400",
        "'a': 'b' c",
        "{'a''b': 1}",
        "- - - - - -",
        "a: &a [*a, *a]",
        "#aabbcc",
        "a: #aabbcc",
        "a: {b: #aabbcc\n}",
        "{a: #\n}",
        "--- a",
        "--- {a: 1}",
        "--- |\n x",
    ];
    for text in odd {
        let read = |text: &str| parse(text.as_bytes()).map(|document| document.diagnoses());
        drop(read(text));
        // The same in every surrounding, cut at every byte.
        for (before, after) in
            [("a: ", "\nb: 1\n"), ("- ", "\n- x\n"), ("{a: ", "}"), ("[", ", b]"), ("a:\n  ", "\n")]
        {
            let whole = format!("{before}{text}{after}");
            drop(read(&whole));
            for end in whole.char_indices().map(|(at, _)| at) {
                drop(read(whole.get(..end).unwrap_or_default()));
            }
        }
    }
}

#[test]
fn what_is_written_reads_back() {
    let text = "a: yes\nb: 12\nc: 'no: thing'\nd: [1, true, '#x', '12']\ne: {f: 1.5}\n";
    let value = value(text);
    assert_eq!(self::value(&write(&value)), value);
}
