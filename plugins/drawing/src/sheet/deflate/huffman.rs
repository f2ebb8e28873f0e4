//! Deflate blocks of bytes by how common they are, and of runs of zeros (RFC 1951, 3.2.7).
//!
//! Each block has a code of its own. Its words have at most twelve bits, so that four of them and what is left of a byte
//! fit into one 64-bit word, and bytes go out without asking after each.

use super::lengths::lengths;

/// Bytes of a block: few enough that codes follow the picture, so many that a code's own size does not count.
const BLOCK: usize = 1 << 17;
/// Literals, the end of the block, lengths of runs.
const SYMBOLS: usize = 286;
const END: usize = 256;
const LONGEST: u8 = 12;
/// The lengths of the codes' words are themselves coded, with words of up to seven bits.
const LONGEST_LENGTH: u8 = 7;
/// The order in which their lengths are told.
const ORDER: [usize; 19] = [16, 17, 18, 0, 8, 7, 9, 6, 10, 5, 11, 4, 12, 3, 13, 2, 14, 1, 15];
/// The longest run that one symbol stands for.
const MOST: usize = 258;
const LEAST: usize = 3;
/// The shortest run each length symbol stands for (RFC 1951, 3.2.5) and how many bits follow it.
const RUNS: [(u16, u8); 29] = [
    (3, 0),
    (4, 0),
    (5, 0),
    (6, 0),
    (7, 0),
    (8, 0),
    (9, 0),
    (10, 0),
    (11, 1),
    (13, 1),
    (15, 1),
    (17, 1),
    (19, 2),
    (23, 2),
    (27, 2),
    (31, 2),
    (35, 3),
    (43, 3),
    (51, 3),
    (59, 3),
    (67, 4),
    (83, 4),
    (99, 4),
    (115, 4),
    (131, 5),
    (163, 5),
    (195, 5),
    (227, 5),
    (258, 0),
];

/// What bytes are broken into.
trait Take {
    fn literals<const N: usize>(&mut self, bytes: &[u8; N]);
    /// So many zeros after a zero, from [`LEAST`] to [`MOST`].
    fn run(&mut self, length: usize);
}

/// Breaks bytes into literals and runs of zeros, which are looked for in whole groups of eight.
fn broken(bytes: &[u8], to: &mut impl Take) {
    let (groups, rest) = bytes.as_chunks::<8>();
    let mut zeros = 0;
    for group in groups {
        if *group == [0; 8] {
            zeros += group.len();
        } else {
            if zeros > 0 {
                runs(zeros, to);
                zeros = 0;
            }
            to.literals(group);
        }
    }
    if zeros > 0 {
        runs(zeros, to);
    }
    rest.iter().for_each(|byte| to.literals(&[*byte]));
}

/// A zero and the runs that follow it.
fn runs(zeros: usize, to: &mut impl Take) {
    to.literals(&[0]);
    let mut left = zeros - 1;
    while left >= LEAST {
        let length = left.min(MOST);
        to.run(length);
        left -= length;
    }
    (0..left).for_each(|_| to.literals(&[0]));
}

/// The length symbol of a run, and what follows it: bits and how many.
fn length_symbol(length: usize) -> (usize, u64, u8) {
    let at = RUNS.iter().rposition(|(least, _)| usize::from(*least) <= length).unwrap_or(0);
    let (least, extra) = RUNS.get(at).copied().unwrap_or_default();
    let above = u64::try_from(length.saturating_sub(usize::from(least))).unwrap_or(0);
    (END + 1 + at, above, extra)
}

/// Counts symbols; neighbouring literals in tables of their own, so that counting one does not wait for the other.
struct Counts {
    literals: [[u32; 256]; 4],
    rest: [u32; SYMBOLS],
}

impl Counts {
    fn of(bytes: &[u8]) -> [u32; SYMBOLS] {
        let mut counts = Self { literals: [[0; 256]; 4], rest: [0; SYMBOLS] };
        broken(bytes, &mut counts);
        for table in &counts.literals {
            counts.rest.iter_mut().zip(table).for_each(|(sum, count)| *sum += count);
        }
        // The end of the block.
        if let Some(end) = counts.rest.get_mut(END) {
            *end = 1;
        }
        counts.rest
    }
}

impl Take for Counts {
    #[inline]
    fn literals<const N: usize>(&mut self, bytes: &[u8; N]) {
        for four in bytes.chunks(4) {
            for (byte, table) in four.iter().zip(&mut self.literals) {
                if let Some(count) = table.get_mut(usize::from(*byte)) {
                    *count += 1;
                }
            }
        }
    }

    fn run(&mut self, length: usize) {
        if let Some(count) = self.rest.get_mut(length_symbol(length).0) {
            *count += 1;
        }
    }
}

/// A word of a code: its bits, first one lowest, and how many.
#[derive(Debug, Clone, Copy, Default)]
struct Word {
    bits: u16,
    length: u8,
}

/// The words of a code from their lengths (RFC 1951, 3.2.2).
fn words<const N: usize>(lengths: &[u8; N]) -> [Word; N] {
    let mut words = [Word::default(); N];
    let mut next = 0_u16;
    for length in 1..=LONGEST {
        next <<= 1;
        for (word, _) in words.iter_mut().zip(lengths).filter(|(_, own)| **own == length) {
            *word = Word { bits: next.reverse_bits() >> (16 - length), length };
            next += 1;
        }
    }
    words
}

/// Bits on their way out; there is always room for one more 64-bit word.
struct Bits {
    out: Vec<u8>,
    at: usize,
    held: u64,
    count: u8,
}

impl Bits {
    /// Takes up to 56 bits in all before they must be flushed.
    #[inline]
    fn hold(&mut self, bits: u64, count: u8) {
        self.held |= bits << self.count;
        self.count += count;
    }

    /// Writes out whole bytes.
    #[inline]
    fn flush(&mut self) {
        if let Some(to) = self.out.get_mut(self.at..).and_then(<[u8]>::first_chunk_mut) {
            *to = self.held.to_le_bytes();
        }
        self.at += usize::from(self.count / 8);
        self.held >>= self.count & !7;
        self.count %= 8;
    }

    #[inline]
    fn put(&mut self, bits: u64, count: u8) {
        self.hold(bits, count);
        self.flush();
    }
}

/// One word behind another.
const fn join(one: (u64, u8), two: (u64, u8)) -> (u64, u8) {
    (one.0 | two.0 << one.1, one.1 + two.1)
}

/// Writes a block's symbols.
struct Writer<'a> {
    literals: [Word; 256],
    all: [Word; SYMBOLS],
    bits: &'a mut Bits,
}

impl Writer<'_> {
    fn symbol(&mut self, symbol: usize) {
        let word = self.all.get(symbol).copied().unwrap_or_default();
        self.bits.hold(word.bits.into(), word.length);
    }
}

impl Take for Writer<'_> {
    #[inline]
    fn literals<const N: usize>(&mut self, bytes: &[u8; N]) {
        let word = |byte: &u8| {
            let Word { bits, length } = self.literals[usize::from(*byte)];
            (u64::from(bits), length)
        };
        let (fours, rest) = bytes.as_chunks::<4>();
        for [one, two, three, four] in fours {
            // Put together in pairs, so that not every word waits for the one before it.
            let pair = |one, two| join(word(one), word(two));
            let (bits, length) = join(pair(one, two), pair(three, four));
            self.bits.put(bits, length);
        }
        for byte in rest {
            let (bits, length) = word(byte);
            self.bits.put(bits, length);
        }
    }

    fn run(&mut self, length: usize) {
        let (symbol, above, extra) = length_symbol(length);
        self.symbol(symbol);
        // The one distance there is, one byte back, has the word 0.
        self.bits.put(above, extra + 1);
    }
}

/// Makes blocks; holds the room they are made in.
pub(super) struct Huffman {
    bits: Bits,
}

impl Default for Huffman {
    fn default() -> Self {
        // No literal takes more than twelve bits; a run takes less than the zeros it stands for.
        let most = BLOCK * usize::from(LONGEST) / 8;
        let code = 1_024;
        Self { bits: Bits { out: vec![0; most + code], at: 0, held: 0, count: 0 } }
    }
}

impl Huffman {
    /// Appends blocks of these bytes, the last of them ending at a whole byte.
    pub(super) fn deflate(&mut self, bytes: &[u8], out: &mut Vec<u8>) {
        for block in bytes.chunks(BLOCK) {
            self.block(block);
            self.hand_over(out);
        }
        // An empty stored block reaches the next whole byte.
        self.bits.put(0, 3);
        if self.bits.count > 0 {
            self.bits.put(0, 8 - self.bits.count);
        }
        self.bits.put(0xffff_0000, 32);
        self.hand_over(out);
    }

    fn hand_over(&mut self, out: &mut Vec<u8>) {
        out.extend_from_slice(self.bits.out.get(..self.bits.at).unwrap_or_default());
        self.bits.at = 0;
    }

    fn block(&mut self, bytes: &[u8]) {
        let lengths = lengths(&Counts::of(bytes), LONGEST);
        self.code(&lengths);
        let all = words(&lengths);
        let literals = all.first_chunk().copied().unwrap_or([Word::default(); 256]);
        let mut writer = Writer { literals, all, bits: &mut self.bits };
        broken(bytes, &mut writer);
        writer.symbol(END);
        self.bits.flush();
    }

    /// The head of a block, with its code.
    fn code(&mut self, of: &[u8; SYMBOLS]) {
        let mut counts = [0_u32; 19];
        // The one distance has one bit.
        let told = || of.iter().copied().chain([1]);
        for length in told() {
            if let Some(count) = counts.get_mut(usize::from(length)) {
                *count += 1;
            }
        }
        let lengths = lengths(&counts, LONGEST_LENGTH);
        let words = words(&lengths);
        // Not the last block; codes of its own; 257 + 29 symbols, one distance, 4 + 15 lengths.
        self.bits.put(0b100 | 29 << 3 | 15 << 13, 17);
        for at in ORDER {
            self.bits.put(lengths.get(at).copied().unwrap_or(0).into(), 3);
        }
        for length in told() {
            let word = words.get(usize::from(length)).copied().unwrap_or_default();
            self.bits.put(word.bits.into(), word.length);
        }
    }
}
