//go:build !unix

package link

func plainLineError(err error) error { return err }
