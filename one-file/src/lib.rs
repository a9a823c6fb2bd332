//! The service of the page within a browser: three functions a worker calls, and no function it has
//! to bring.
//!
//! A request is laid into [`room`]: its body, and behind it its head as JSON. [`ask`] answers it:
//! two lengths of four bytes each, least byte first, then the answer's head as JSON and its body.
//! [`work`] does what goes on after an answer. Addresses are offsets into the module's memory; an
//! answer stands until the next call.

use std::cell::RefCell;
use std::sync::Arc;

use camwitness::page::MAX_UPLOAD;
use camwitness::page::service::{
    Answer, CarriedShelf, Method, Refusal, Service, Setup, Status, UploadLimit, Work,
};
use serde::{Deserialize, Serialize};

/// What the module keeps between calls.
struct Held {
    service: Service,
    room: Vec<u8>,
    answer: Vec<u8>,
    work: Option<Work>,
}

thread_local! {
    static HELD: RefCell<Held> = RefCell::new(Held {
        service: Service::with(Setup {
            shop: Some(Arc::new(CarriedShelf::default())),
            ..Setup::alone(UploadLimit {
                bytes: MAX_UPLOAD,
                to_raise: "read it with the camwitness program on a computer",
            })
        }),
        room: Vec::new(),
        answer: Vec::new(),
        work: None,
    });
}

/// What a request says of itself.
#[derive(Deserialize)]
struct Head<'a> {
    method: &'a str,
    address: String,
    /// The number what it adds is to have, when it is asked again after a new start.
    number: Option<u64>,
}

/// What an answer says of itself.
#[derive(Serialize)]
struct Shown<'a> {
    done: bool,
    kind: &'a str,
    save_as: Option<&'a str>,
    /// Whether `work` is to be called next.
    work: bool,
}

/// Room for a request of so many bytes, body and head; 0 when the browser has no memory for it.
#[allow(unsafe_code)]
#[unsafe(no_mangle)]
pub extern "C" fn room(bytes: usize) -> *mut u8 {
    HELD.with_borrow_mut(|held| {
        held.room = Vec::new();
        if held.room.try_reserve_exact(bytes).is_err() {
            return std::ptr::null_mut();
        }
        held.room.resize(bytes, 0);
        held.room.as_mut_ptr()
    })
}

/// Answers the request in the room, of whose bytes the first `body` are its body.
#[allow(unsafe_code)]
#[unsafe(no_mangle)]
pub extern "C" fn ask(body: usize) -> *const u8 {
    HELD.with_borrow_mut(|held| {
        let answer = held.answered(body);
        held.write(&answer);
        held.answer.as_ptr()
    })
}

/// Does what goes on after the last answer.
#[allow(unsafe_code)]
#[unsafe(no_mangle)]
pub extern "C" fn work() {
    if let Some(work) = HELD.with_borrow_mut(|held| held.work.take()) {
        work.run();
    }
}

impl Held {
    fn answered(&mut self, body: usize) -> Answer {
        let mut bytes = std::mem::take(&mut self.room);
        let head = bytes.split_off(body.min(bytes.len()));
        let head: Head = match serde_json::from_slice(&head) {
            Ok(head) => head,
            Err(error) => return Refusal::broken(error).into(),
        };
        let method = match head.method {
            "GET" => Method::Get,
            "POST" => Method::Post,
            "DELETE" => Method::Delete,
            other => return Refusal::broken(format!("{other} is no method")).into(),
        };
        if let Some(number) = head.number {
            self.service.count_from(number);
        }
        let mut request = self.service.begin(method, &head.address);
        if let Err(refusal) = request.take_all(bytes) {
            return refusal.into();
        }
        let reply = self.service.ask(request);
        self.work = reply.work;
        reply.answer
    }

    fn write(&mut self, answer: &Answer) {
        let head = serde_json::to_vec(&Shown {
            done: answer.status == Status::Done,
            kind: answer.kind,
            save_as: answer.save_as.as_deref(),
            work: self.work.is_some(),
        })
        .unwrap_or_default();
        self.answer.clear();
        for length in [head.len(), answer.body.len()] {
            self.answer.extend((length as u32).to_le_bytes());
        }
        self.answer.extend(&head);
        self.answer.extend(answer.body.iter());
    }
}
