package sqlite

import (
	"context"
	"time"

	"ropewalk/service"
)

var errLater = service.Errorf(service.Internal, "this store cannot tell yet")

func (s *Store) Labels(context.Context, []string) (map[string]string, error) { return nil, errLater }
func (s *Store) Changes(context.Context, service.Selection) ([]service.Record, error) {
	return nil, errLater
}
func (s *Store) Count(context.Context, service.Selection) (int64, bool, error) {
	return 0, false, errLater
}
func (s *Store) Log(context.Context, int64, int) ([]service.Record, error) { return nil, errLater }
func (s *Store) Walk(context.Context, func(*service.Record) error) (service.Publication, error) {
	return service.Publication{}, errLater
}
func (s *Store) Versions(context.Context, string, int64, int) ([]service.Record, error) {
	return nil, errLater
}
func (s *Store) Version(context.Context, int64) (*service.Record, error) { return nil, errLater }
func (s *Store) At(context.Context, string, time.Time) (*service.Record, error) {
	return nil, errLater
}
func (s *Store) Publications(context.Context, int64, int) ([]service.Publication, error) {
	return nil, errLater
}
func (s *Store) Earliest(context.Context) (time.Time, error)          { return time.Time{}, errLater }
func (s *Store) Mark(context.Context, string) (int64, error)          { return 0, errLater }
func (s *Store) SetMark(context.Context, string, int64) error         { return errLater }
func (d *draft) Withdraw(path, reason string) (service.Change, error) { return 0, errLater }
func (d *draft) Move(path, iri string) (service.Change, error)        { return 0, errLater }
func (d *draft) Annotate(note, sources string)                        {}
func (d *draft) Last() service.Publication                            { return d.last }
func (d *draft) Live() int                                            { return 0 }
func (d *draft) Differences(service.Change, int) ([]service.Difference, error) {
	return nil, errLater
}
func (d *draft) Check() error { return nil }
