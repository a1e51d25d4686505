package main

import (
	"fmt"
	"io/fs"
	"strings"

	"bedd/configs"

	"github.com/spf13/cobra"
)

const schemaPrefix, schemaEnding = "schema-", ".json"

func newPlanSchema() *cobra.Command {
	names := schemaNames()
	return &cobra.Command{
		Use:   "schema [KIND]",
		Short: "The JSON Schema of a plan, for editors",
		Long: `schema prints the JSON Schema of a plan, or of another of bedd's files: ` + strings.Join(names, ", ") + `.
An editor with a YAML language server completes and checks a plan by it when the plan
begins with a line that says where the schema is, from the plan's own folder:

  # yaml-language-server: $schema=schema-gathering.json`,
		Example: `  bedd plan schema > schema-gathering.json
  bedd plan schema rig > schema-rig.json`,
		RunE: func(cmd *cobra.Command, args []string) error {
			kind := "gathering"
			if len(args) > 0 {
				kind = args[0]
			}
			data, err := configs.FS.ReadFile(schemaPrefix + kind + schemaEnding)
			if err != nil || len(args) > 1 {
				return badInput{fmt.Errorf("there is no schema %q: use one of %s", strings.Join(args, " "), strings.Join(names, ", "))}
			}
			_, err = cmd.OutOrStdout().Write(data)
			return err
		},
	}
}

func schemaNames() []string {
	files, err := fs.Glob(configs.FS, schemaPrefix+"*"+schemaEnding)
	if err != nil {
		panic(err) // the pattern is ours
	}
	for i, f := range files {
		files[i] = strings.TrimSuffix(strings.TrimPrefix(f, schemaPrefix), schemaEnding)
	}
	return files
}
