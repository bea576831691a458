//go:build !unix

package main

import "ropewalk/service/push"

// lockPush does nothing here: claims in the target keep pushes apart.
func lockPush(string, *push.Options) (unlock func(clean bool), err error) {
	return func(bool) {}, nil
}
