package service

import (
	"errors"
	"fmt"
)

// Code sorts errors by what the one who asked can do about them.
type Code string

// The codes.
const (
	Invalid       Code = "invalid"        // the request or record is malformed
	NotFound      Code = "not-found"      // nothing was ever there
	Withheld      Code = "gone"           // it was withdrawn
	Conflict      Code = "conflict"       // it clashes with another record
	NotAcceptable Code = "not-acceptable" // no form of it suits the request
	NotAllowed    Code = "not-allowed"    // the method is not offered here
	Precondition  Code = "precondition"   // a condition of the request does not hold
	TooLong       Code = "too-long"       // an address beyond the limits
	TooLarge      Code = "too-large"      // header fields beyond the limits
	TooMuch       Code = "too-much"       // a body beyond the limits
	Unavailable   Code = "unavailable"    // try again later
	Internal      Code = "internal"       // a fault of the service
)

// Error is an error with a code. Message is for whoever asked; Err is for the log.
type Error struct {
	Code    Code
	Message string
	Err     error
}

// Error gives the message and the cause.
func (e *Error) Error() string {
	if e.Err == nil {
		return e.Message
	}
	if e.Message == "" {
		return e.Err.Error()
	}
	return e.Message + ": " + e.Err.Error()
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Err }

// Errorf makes an error with a message for whoever asked.
func Errorf(c Code, format string, a ...any) *Error {
	return &Error{Code: c, Message: fmt.Sprintf(format, a...)}
}

// CodeOf is the code of an error: "" for nil, Internal if it has none.
func CodeOf(err error) Code {
	if err == nil {
		return ""
	}
	if e := (*Error)(nil); errors.As(err, &e) {
		return e.Code
	}
	return Internal
}

// Codes lists all codes.
func Codes() []Code {
	return []Code{Invalid, NotFound, Withheld, Conflict, NotAcceptable, NotAllowed, Precondition, TooLong, TooLarge, TooMuch, Unavailable, Internal}
}
