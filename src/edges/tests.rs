//! Crossing times against closed forms.
