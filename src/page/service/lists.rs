//! What a session holds one after the other, each under a number.

use std::sync::{Arc, Mutex};

use super::held::lock;

/// Things in the order in which they came.
pub(super) struct List<T>(Mutex<Vec<(u64, Arc<T>)>>);

impl<T> Default for List<T> {
    fn default() -> Self {
        List(Mutex::default())
    }
}

impl<T> List<T> {
    pub fn add(&self, id: u64, held: T) -> (u64, Arc<T>) {
        let held = Arc::new(held);
        lock(&self.0).push((id, held.clone()));
        (id, held)
    }

    pub fn get(&self, id: u64) -> Option<Arc<T>> {
        lock(&self.0).iter().find(|(other, _)| *other == id).map(|(_, held)| held.clone())
    }

    /// Takes one out; `None` where there is none of that number.
    pub fn remove(&self, id: u64) -> Option<Arc<T>> {
        let mut list = lock(&self.0);
        let at = list.iter().position(|(other, _)| *other == id)?;
        Some(list.remove(at).1)
    }

    pub fn all(&self) -> Vec<(u64, Arc<T>)> {
        lock(&self.0).clone()
    }

    pub fn has(&self, id: u64) -> bool {
        lock(&self.0).iter().any(|(other, _)| *other == id)
    }
}
