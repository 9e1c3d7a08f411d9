//! Messages as they come and go: a head with their length, and JSON (the base protocol of the language server protocol, 3.17). What
//! does not read is reported, and the next message is read all the same.

use std::io::{self, BufRead, Read, Write};

use lsp_server::{ErrorCode, Message};
use serde_json::{Value, json};

/// What was read.
#[derive(Debug)]
pub(super) enum Frame {
    /// A message.
    Message(Message),
    /// Something else, with what is wrong with it.
    Unreadable(ErrorCode, String),
    /// Nothing comes any more.
    End,
}

/// What goes back.
#[derive(Debug)]
pub(super) enum Answer {
    /// A message.
    Message(Message),
    /// What is wrong with something that was no request, which therefore has no id.
    Complaint(ErrorCode, String),
}

impl<M: Into<Message>> From<M> for Answer {
    fn from(message: M) -> Self {
        Answer::Message(message.into())
    }
}

impl Answer {
    /// Writes it with its head.
    pub(super) fn write(&self, out: &mut dyn Write) -> io::Result<()> {
        let mut out = out;
        match self {
            Answer::Message(message) => message.write(&mut out),
            Answer::Complaint(code, message) => {
                let error = json!({"code": *code as i32, "message": message});
                let body = json!({"jsonrpc": "2.0", "id": null, "error": error}).to_string();
                write!(out, "Content-Length: {}\r\n\r\n{body}", body.len())?;
                out.flush()
            }
        }
    }
}

/// Reads the next message.
pub(super) fn read(input: &mut impl BufRead) -> Frame {
    let length = match length(input) {
        Ok(Some(length)) => length,
        Ok(None) => return Frame::End,
        Err(why) => return Frame::Unreadable(ErrorCode::ParseError, why.to_owned()),
    };
    if length > MOST {
        // It is passed over without being kept.
        let passed = io::copy(&mut input.take(length), &mut io::sink());
        if passed.is_ok_and(|passed| passed < length) {
            return Frame::End;
        }
        return Frame::Unreadable(ErrorCode::InvalidRequest, format!("a message may have {MOST} bytes at most"));
    }
    let mut body = Vec::new();
    match input.take(length).read_to_end(&mut body) {
        Ok(read) if read as u64 == length => message(&body),
        _ => Frame::End,
    }
}

fn message(body: &[u8]) -> Frame {
    let value: Value = match serde_json::from_slice(body) {
        Ok(value) => value,
        Err(error) => return Frame::Unreadable(ErrorCode::ParseError, format!("this is not JSON: {error}")),
    };
    match serde_json::from_value(value) {
        Ok(message) => Frame::Message(message),
        Err(_) => Frame::Unreadable(ErrorCode::InvalidRequest, "this is no message of JSON-RPC 2.0".to_owned()),
    }
}

/// The length that a head gives; nothing at the end of the stream.
fn length(input: &mut impl BufRead) -> Result<Option<u64>, &'static str> {
    let mut length = None;
    loop {
        let mut line = Vec::new();
        match input.take(LINE).read_until(b'\n', &mut line) {
            Ok(0) | Err(_) => return Ok(None),
            Ok(_) => {}
        }
        let line = String::from_utf8_lossy(&line);
        let line = line.trim_end();
        if line.is_empty() {
            return length.map(Some).ok_or("a message begins with Content-Length");
        }
        let Some((name, value)) = line.split_once(':') else { return Err("a line of a head reads name: value") };
        if name.trim().eq_ignore_ascii_case("content-length") {
            length = Some(value.trim().parse().map_err(|_| "Content-Length is a whole number")?);
        }
    }
}

/// Bytes that a message may have: some times what a worksheet may.
const MOST: u64 = 64 * 1024 * 1024;
/// Bytes that a line of a head may have.
const LINE: u64 = 4096;

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_does_not_read_is_told_and_the_next_is_read() {
        let good = r#"{"jsonrpc":"2.0","method":"exit"}"#;
        let framed = |body: &str| format!("Content-Length: {}\r\n\r\n{body}", body.len());
        let input = [
            framed("{").as_str(),
            &framed("[]"),
            "no head\r\n",
            "Content-Length: -1\r\n",
            "\r\n",
            &framed("{\"id\":1}x"),
            &framed(good),
            &format!("content-length:{}\r\nContent-Type: x\r\n\r\n{good}", good.len()),
            "Content-Length: 99999999999999999999\r\n",
            "Content-Length: 9999999999\r\n\r\nx",
        ]
        .concat();
        let mut input = input.as_bytes();
        let mut kinds = String::new();
        loop {
            kinds.push(match read(&mut input) {
                Frame::Message(_) => 'm',
                Frame::Unreadable(..) => 'u',
                Frame::End => break,
            });
        }
        assert_eq!(kinds, "uuuuuummu");
    }
}
