package gathering

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"bedd/configs"
)

// What built-in files are called.
const (
	rigPrefix   = "rig-"
	planPrefix  = "gathering-"
	extension   = ".yaml"
	libraryName = "progressions" + extension
)

// OpenRig reads the rig in a file, or the built-in one of that name, such as
// "no-pedal". An error is of type *[FileError] where the file has faults.
func OpenRig(pathOrName string) (Rig, error) {
	name, data, err := RigFile(pathOrName)
	if err != nil {
		return Rig{}, err
	}
	return ReadRig(name, data)
}

// RigFile gives the text that OpenRig reads, and what to call it, for [ReadRig].
func RigFile(pathOrName string) (name string, data []byte, err error) {
	return open(pathOrName, rigPrefix, "rig")
}

// OpenGathering reads the plan in a file, or the built-in one of that name,
// such as "winter-lights". An error is of type *[FileError] where the file has
// faults.
func OpenGathering(pathOrName string, library Library) (Gathering, error) {
	name, data, err := open(pathOrName, planPrefix, "gathering")
	if err != nil {
		return Gathering{}, err
	}
	return ReadGathering(name, data, library)
}

// OpenLibrary reads the library in a file, or for an empty path the built-in
// one. An error is of type *[FileError] where the file has faults.
func OpenLibrary(path string) (Library, error) {
	name, read := libraryName, configs.FS.ReadFile
	if path != "" {
		name, read = path, readFile
	}
	data, err := read(name)
	if err != nil {
		return nil, fmt.Errorf("library: %w", err)
	}
	return ReadLibrary(name, data)
}

// RigNames lists the built-in rigs, as OpenRig takes them.
func RigNames() []string { return builtIn(rigPrefix) }

// GatheringNames lists the built-in plans, as OpenGathering takes them.
func GatheringNames() []string { return builtIn(planPrefix) }

func builtIn(prefix string) []string {
	files, err := fs.Glob(configs.FS, prefix+"*"+extension)
	if err != nil {
		panic(err) // the pattern is ours
	}
	for i, f := range files {
		files[i] = strings.TrimSuffix(strings.TrimPrefix(f, prefix), extension)
	}
	return files
}

// open gives what is built in under a bare name, else a file, else what is
// built in under that file's name.
func open(pathOrName, prefix, what string) (name string, data []byte, err error) {
	name = prefix + strings.TrimSuffix(strings.TrimPrefix(pathOrName, prefix), extension) + extension
	data, missing := configs.FS.ReadFile(name)
	if missing == nil && !strings.ContainsAny(pathOrName, `./\`) {
		return name, data, nil
	}
	read, err := readFile(pathOrName)
	switch {
	case err == nil:
		return pathOrName, read, nil
	case !errors.Is(err, fs.ErrNotExist):
		return "", nil, fmt.Errorf("%s: %w", what, err)
	case missing == nil:
		return name, data, nil
	}
	return "", nil, fmt.Errorf("no %s %q: %w; built in are %s", what, pathOrName, fs.ErrNotExist, strings.Join(builtIn(prefix), ", "))
}

// baseName is a file's name without its folder and its ending.
func baseName(path string) string {
	return strings.TrimSuffix(filepath.Base(path), filepath.Ext(path))
}

// readFile reads no more of a file than shows that it is too long.
func readFile(path string) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, maxBytes+1))
}
