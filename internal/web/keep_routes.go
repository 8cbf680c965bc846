package web

import "net/http"

// keepRoutes are the pages of keeping the record: passphrase, copies, backup.
var keepRoutes = []Route{
	{Method: http.MethodGet, Path: "/keep", Roles: lead, Handle: keepShow},
	{Method: http.MethodPost, Path: "/keep/lock", Roles: lead, Handle: keepLock},
	{Method: http.MethodGet, Path: "/keep/passphrase", Roles: lead, Handle: keepPassphraseShow},
	{Method: http.MethodPost, Path: "/keep/passphrase", Roles: lead, Handle: keepPassphrase},
	{Method: http.MethodGet, Path: "/keep/idle", Roles: lead, Handle: keepIdleShow},
	{Method: http.MethodPost, Path: "/keep/idle", Roles: lead, Handle: keepIdle},
	{Method: http.MethodGet, Path: "/keep/copy", Roles: lead, Handle: keepCopyShow},
	{Method: http.MethodPost, Path: "/keep/copy", Roles: lead, Handle: keepCopy},
	{Method: http.MethodGet, Path: "/keep/backup", Roles: lead, Handle: keepBackupShow},
	{Method: http.MethodPost, Path: "/keep/backup", Roles: lead, Handle: keepBackup},
}
