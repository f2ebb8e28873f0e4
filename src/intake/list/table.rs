//! A list as a table: bytes to column names and cells, each row with the place it has in the text. What a cell means is
//! not known here.
//!
//! Spreadsheets write what RFC 4180 describes, with a comma or, where the comma stands in numbers, with a semicolon, and
//! some with a byte order mark. A row may be wrong by itself; the list as a whole only where its rows cannot be told
//! apart.

use std::ops::Range;

use csv_core::{ReadRecordResult, ReaderBuilder};

use crate::config::{Diagnosis, Excerpt};

/// The longest list, in bytes, and the most rows: a night makes no more.
pub(crate) const LONGEST_LIST: u64 = 1 << 20;
const MOST_ROWS: usize = 2_000;

/// The most columns: all an order may say, and all its fields.
const MOST_COLUMNS: usize = 120;

/// Column names and rows, empty ones left out.
#[derive(Debug)]
pub(super) struct Table {
    /// The column names.
    pub(super) head: Row,
    pub(super) rows: Vec<Row>,
    text: String,
    delimiter: u8,
}

/// One row as it stands there, blanks round its cells left out.
#[derive(Debug)]
pub(super) struct Row {
    /// The line it begins on, from 1.
    pub(super) line: u32,
    pub(super) cells: Vec<String>,
    /// In bytes of the text.
    at: Range<usize>,
}

impl Table {
    /// A row as it stands in the text.
    pub(super) fn whole(&self, row: &Row) -> Excerpt {
        Excerpt::of(&self.text, row.at.clone())
    }

    /// One cell of a row.
    pub(super) fn cell(&self, row: &Row, place: usize) -> Excerpt {
        let written = self.text.get(row.at.clone()).unwrap_or_default();
        let (mut start, mut quoted, mut begins, mut cell) = (0, false, true, 0);
        let mut end = written.len();
        for (at, byte) in written.bytes().enumerate() {
            if byte == b'"' && (quoted || begins) {
                quoted = !quoted;
            }
            begins = !quoted && byte == self.delimiter;
            if begins && cell == place {
                end = at;
                break;
            }
            if begins {
                (cell, start) = (cell + 1, at + 1);
            }
        }
        let blank = written.get(start..end).map_or(0, |cell| cell.len() - cell.trim_start().len());
        Excerpt::of(&self.text, row.at.start + start + blank..row.at.start + end)
    }
}

/// Reads a list; `name` is what people know it by.
pub(super) fn read(name: &str, bytes: &[u8]) -> Result<Table, Diagnosis> {
    let text = plain(name, bytes)?;
    let delimiter = delimiter(text);
    if let Some(quote) = unclosed(text, delimiter) {
        let what = "a quote is opened here and never closed, so it swallows all lines after it";
        let cure = "Close the quote; one within a text is written twice.";
        return Err(Diagnosis::of_file(name, what, cure).at(Excerpt::of(text, quote..quote + 1)));
    }
    let mut rows = records(text, delimiter);
    let head = if rows.is_empty() { None } else { Some(rows.remove(0)) };
    let Some(head) = head.filter(|_| !rows.is_empty()) else {
        return Err(Diagnosis::of_file(
            name,
            "the list has no lines below its column names",
            "Write column names into its first line, such as `name,copies`, and below them a line for each article.",
        ));
    };
    if head.cells.len() > MOST_COLUMNS || rows.len() > MOST_ROWS {
        let what = format!("the list has {} lines and {} columns", rows.len(), head.cells.len());
        let cure =
            format!("Keep it to {MOST_ROWS} lines and {MOST_COLUMNS} columns; cut it into several lists.");
        return Err(Diagnosis::of_file(name, what, cure));
    }
    Ok(Table { head, rows, text: text.to_owned(), delimiter })
}

/// The text of the bytes, without a mark of the byte order.
fn plain<'a>(name: &str, bytes: &'a [u8]) -> Result<&'a str, Diagnosis> {
    if u64::try_from(bytes.len()).unwrap_or(u64::MAX) > LONGEST_LIST {
        return Err(Diagnosis::of_file(
            name,
            format!("the list is longer than {} KiB", LONGEST_LIST >> 10),
            "Cut it into several lists, or look whether the right file was saved under this name.",
        ));
    }
    let text = std::str::from_utf8(bytes).map_err(|why| {
        let (shown, at) = (String::from_utf8_lossy(bytes), why.valid_up_to());
        let cure = "Save it as \"CSV UTF-8\", which every spreadsheet offers.";
        Diagnosis::of_file(name, "the text is not UTF-8", cure)
            .at(Excerpt::of(&shown, at..at + char::REPLACEMENT_CHARACTER.len_utf8()))
    })?;
    Ok(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// How many lines a text ends, whichever of the three ways its lines end.
fn lines(text: &str) -> u32 {
    let crossed = text.matches("\r\n").count();
    let ends = text.matches(['\r', '\n']).count() - crossed;
    u32::try_from(ends).unwrap_or(u32::MAX)
}

/// Comma or semicolon: whichever there is more of in the first line that says anything, outside quotes.
fn delimiter(text: &str) -> u8 {
    let (mut commas, mut semicolons, mut quoted) = (0_usize, 0_usize, false);
    for c in text.trim_start().chars() {
        match c {
            '"' => quoted = !quoted,
            '\r' | '\n' if !quoted => break,
            ',' if !quoted => commas += 1,
            ';' if !quoted => semicolons += 1,
            _ => {}
        }
    }
    if semicolons > commas { b';' } else { b',' }
}

/// Where a quote begins a cell and never ends it.
fn unclosed(text: &str, delimiter: u8) -> Option<usize> {
    let mut letters = text.bytes().enumerate().peekable();
    let (mut opened, mut begins) = (None, true);
    while let Some((place, byte)) = letters.next() {
        match (byte, opened) {
            (b'"', Some(_)) => {
                // Two stand for one.
                let two = letters.next_if(|(_, next)| *next == b'"').is_some();
                opened = opened.filter(|_| two);
            }
            (b'"', None) if begins => opened = Some(place),
            _ => {}
        }
        begins = opened.is_none() && (byte == delimiter || matches!(byte, b'\r' | b'\n'));
    }
    opened
}

/// All rows that say anything.
fn records(text: &str, delimiter: u8) -> Vec<Row> {
    let mut reader = ReaderBuilder::new().delimiter(delimiter).build();
    // No row has more bytes than the text, nor more cells than bytes.
    let (mut bytes, mut ends) = (vec![0; text.len() + 1], vec![0; text.len() + 1]);
    let (mut rows, mut line, mut counted) = (Vec::new(), 1, 0);
    let (mut read, mut read_before, mut written, mut ended) = (0, 0, 0, 0);
    loop {
        let input = text.as_bytes().get(read..).unwrap_or_default();
        let room = (bytes.get_mut(written..).unwrap_or_default(), ends.get_mut(ended..).unwrap_or_default());
        let (found, taken, more, cells) = reader.read_record(input, room.0, room.1);
        (read, written, ended) = (read + taken, written + more, ended + cells);
        match found {
            // What it has is told when it is asked once more.
            ReadRecordResult::InputEmpty => continue,
            ReadRecordResult::Record => {}
            ReadRecordResult::End | ReadRecordResult::OutputFull | ReadRecordResult::OutputEndsFull => {
                return rows;
            }
        }
        // From one row's begin to the next, so that no line end of two letters is counted twice.
        let said = text.get(read_before..).unwrap_or_default();
        let begin = read_before + said.len() - said.trim_start_matches(['\r', '\n']).len();
        line += lines(text.get(counted..begin).unwrap_or_default());
        let cells = cells_of(&bytes, ends.get(..ended).unwrap_or_default());
        if cells.iter().any(|cell| !cell.is_empty()) {
            let written = text.get(begin..read).unwrap_or_default().trim_end_matches(['\r', '\n']).len();
            rows.push(Row { line, cells, at: begin..begin + written });
        }
        (counted, read_before, written, ended) = (begin, read, 0, 0);
    }
}

/// The cells of one row, without the blanks round them.
fn cells_of(bytes: &[u8], ends: &[usize]) -> Vec<String> {
    let mut begin = 0;
    let cell = |end: &usize| {
        let cell = bytes.get(begin..*end).unwrap_or_default();
        begin = *end;
        // Cut between letters, from a text.
        String::from_utf8_lossy(cell).trim().to_owned()
    };
    ends.iter().map(cell).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rows(text: &str) -> Vec<(u32, String)> {
        let table = read("visitors.csv", text.as_bytes()).unwrap_or_else(|why| panic!("{text}: {why}"));
        table.rows.into_iter().map(|row| (row.line, row.cells.join("|"))).collect()
    }

    #[test]
    fn what_spreadsheets_write_is_read() {
        let wanted = [(2, "Ada|1".to_owned()), (3, "Bo; Ely|2".to_owned())];
        for text in [
            "name,copies\nAda,1\nBo; Ely,2\n",
            "\u{feff}name,copies\r\nAda,1\r\nBo; Ely,2",
            "name;copies\nAda;1\n\"Bo; Ely\";2\n",
            "name,copies\rAda,1\rBo; Ely,2\r",
            "\"name\", copies\n Ada ,1\n\"Bo; Ely\",2\n",
        ] {
            assert_eq!(rows(text), wanted, "{text:?}");
        }
    }

    #[test]
    fn quotes_are_those_of_rfc_4180() {
        let text = "name,words\n\"Ada, of the \"\"pier\"\"\",\"two\nlines\"\nBo,5\" wide\n";
        assert_eq!(
            rows(text),
            [(2, "Ada, of the \"pier\"|two\nlines".to_owned()), (4, "Bo|5\" wide".to_owned())]
        );
    }

    #[test]
    fn lines_are_counted_over_what_is_empty() {
        for end in ["\n", "\r\n", "\r"] {
            let text = "\n\nname,copies\n\n\nAda,1\n,\n \n\"Bo\n\nEly\",2\nCy,3".replace('\n', end);
            let found: Vec<u32> = rows(&text).into_iter().map(|(line, _)| line).collect();
            assert_eq!(found, [6, 9, 12], "{end:?}");
        }
    }

    #[test]
    fn lists_whose_rows_cannot_be_told_apart_are_refused_as_a_whole() {
        let why = |bytes: &[u8]| read("visitors.csv", bytes).expect_err("it is refused").to_string();
        assert!(why(b"name\nAda\n\"Bo\nCy\n").starts_with("visitors.csv, line 3: a quote"));
        assert!(why(b"name\nAda\nG\xfcl\n").starts_with("visitors.csv, line 3: the text is not UTF-8"));
        for nothing in ["", "name,copies\n", "\n\n", ",,,\n,,\n", "\u{feff}"] {
            assert!(why(nothing.as_bytes()).contains("no lines"), "{nothing:?}");
        }
        assert!(why(&vec![b'a'; (1 << 20) + 1]).contains("1024 KiB"));
        assert!(why(format!("name\n{}", "Ada\n".repeat(2_001)).as_bytes()).contains("2001 lines"));
        assert!(why(format!("{}\nAda", "name,".repeat(121)).as_bytes()).contains("122 columns"));
        assert_eq!(rows(&format!("name\n{}", "Ada\n".repeat(2_000))).len(), 2_000);
    }

    #[test]
    fn nothing_upsets_it() {
        for text in ["\"", "a\n\"\"\"", "\0\0\n\0", "a,b\n\"x\"y\"z,\"", "a\n;;;;\n", ",\n\"\",\"\"\nx"] {
            drop(read("visitors.csv", text.as_bytes()));
        }
    }
}
