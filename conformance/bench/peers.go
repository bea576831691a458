package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"os/exec"
	"time"

	"github.com/piprate/json-gold/ld"

	"ropewalk/mapping/render"
	"ropewalk/vocab"
)

// loader gives json-gold the profile's context and nothing else.
type loader struct{ doc any }

func (l loader) LoadDocument(u string) (*ld.RemoteDocument, error) {
	if u != vocab.ContextURL {
		return nil, fmt.Errorf("%s is not to be fetched", u)
	}
	return &ld.RemoteDocument{DocumentURL: u, Document: l.doc}, nil
}

// peers measures general-purpose tools on the same documents.
func (b *bench) peers(t *table) error {
	ctx := vocab.ContextJSON()
	if b.context != "" {
		data, err := os.ReadFile(b.context)
		if err != nil {
			return err
		}
		ctx = data
	}
	doc, err := ld.DocumentFromReader(bytes.NewReader(ctx))
	if err != nil {
		return err
	}
	proc := ld.NewJsonLdProcessor()
	opts := ld.NewJsonLdOptions("")
	opts.ProcessingMode = ld.JsonLd_1_1
	opts.DocumentLoader = loader{doc}
	opts.Format = "application/n-quads"
	n := float64(len(b.docs))
	start := time.Now()
	for _, d := range b.docs {
		var v any
		if err := json.Unmarshal(d, &v); err != nil {
			return err
		}
		out, err := proc.ToRDF(v, opts)
		if err != nil {
			return err
		}
		if s, ok := out.(string); !ok || len(s) == 0 {
			return fmt.Errorf("json-gold gave no triples")
		}
	}
	gold := time.Since(start)

	// Our export of the same records to N-Quads, close in time.
	enc, run := render.NewEncoder(render.FormatByName("nq"), render.Options{}), b.site.Program.NewRun()
	_, _ = b.export(run, enc, nil)
	ours := timed(func() { b.export(run, enc, nil) })
	oursRate := float64(len(b.floors)) / ours.Seconds()
	goldRate := n / gold.Seconds()
	t.add(row{what: fmt.Sprintf("json-gold, JSON-LD to N-Quads (%d documents)", len(b.docs)), records: goldRate})
	t.add(row{what: "export N-Quads", records: oursRate, ratio: oursRate / goldRate, of: "json-gold", target: 200, atLeast: true})

	rapper, err := exec.LookPath("rapper")
	if err != nil {
		if os.Getenv("CI") != "" {
			return fmt.Errorf("rapper (Debian package raptor2-utils) is missing")
		}
		fmt.Println("rapper is not installed: left out")
		return nil
	}
	nt := bytes.Repeat(b.nt, 20)
	for _, f := range [][2]string{{"ntriples", "nt"}, {"turtle", "ttl"}, {"rdfxml", "rdf"}} {
		cmd := exec.Command(rapper, "-q", "-i", "ntriples", "-o", f[0], "-", "https://data.stormglass.example/")
		cmd.Stdin = bytes.NewReader(nt)
		cmd.Stdout = io.Discard
		var stderr bytes.Buffer
		cmd.Stderr = &stderr
		var rerr error
		peer := timed(func() { rerr = cmd.Run() })
		if rerr != nil {
			return fmt.Errorf("rapper: %w: %s", rerr, stderr.String())
		}
		e := render.NewEncoder(render.FormatByName(f[1]), render.Options{})
		mine := timed(func() { b.export(run, e, nil) })
		peerRate, myRate := n*20/peer.Seconds(), float64(len(b.floors))/mine.Seconds()
		t.add(row{what: "rapper, N-Triples to " + f[0], records: peerRate, ratio: myRate / peerRate, of: "slower than the export"})
	}
	return nil
}
