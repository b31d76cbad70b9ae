//! A reader that counts, and that no endless row can keep busy.

use std::cell::Cell;
use std::io::{self, Read};
use std::rc::Rc;

/// Longest row, in bytes. An unclosed quotation mark makes one row of the rest of the
/// file; it shall not fill the memory.
const LONGEST_ROW: u64 = 16 << 20;

/// How many bytes were read, in all and since the last row.
#[derive(Clone, Default)]
pub(super) struct Count {
    all: Rc<Cell<u64>>,
    at_last_row: Rc<Cell<u64>>,
}

impl Count {
    /// Notes that a row is complete; gives the bytes read so far.
    pub(super) fn take_record(&self) -> u64 {
        self.at_last_row.set(self.all.get());
        self.all.get()
    }
}

pub(super) struct Watched<R> {
    inner: R,
    count: Count,
}

impl<R: Read> Watched<R> {
    pub(super) fn new(inner: R) -> Self {
        Self {
            inner,
            count: Count::default(),
        }
    }

    pub(super) fn count(&self) -> Count {
        self.count.clone()
    }
}

impl<R: Read> Read for Watched<R> {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let all = self.count.all.get();
        if all - self.count.at_last_row.get() > LONGEST_ROW {
            return Err(io::Error::new(
                io::ErrorKind::InvalidData,
                "a row of more than 16 MB, perhaps for want of a closing quotation mark",
            ));
        }
        let read = self.inner.read(buffer)?;
        self.count.all.set(all + read as u64);
        Ok(read)
    }
}
