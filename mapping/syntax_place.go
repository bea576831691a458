package mapping

import (
	"strings"
	"unicode/utf8"
)

// measure sets the length of the scalar's span: that of what is written, as far
// as the end of its first line.
func (s *Scalar) measure() {
	if s.Block {
		s.Len = 1
		return
	}
	if _, end, ok := s.align(); ok {
		first, _, _ := strings.Cut(s.written[:end], "\n")
		s.Len = max(1, utf8.RuneCountInString(strings.TrimRight(first, " \t")))
	}
}

// at gives the span of the bytes from to to of the scalar's text, as far as the
// end of the line where they begin.
func (s *Scalar) at(from, to int) Span {
	pos, end, ok := s.align()
	if from = min(from, len(s.Text)); !ok || from < 0 || s.Text == "" {
		return s.Span
	}
	start := end
	if from < len(s.Text) {
		start = pos[from]
	} else if s.Quoted {
		start--
	}
	stop := start
	if to = min(to, len(s.Text)); to > from {
		_, size := utf8.DecodeLastRuneInString(s.Text[from:to])
		// The last line end of a block stands at the end of a file that has none.
		stop = min(pos[to-size]+1, len(s.written))
		for stop < len(s.written) && !utf8.RuneStart(s.written[stop]) {
			stop++
		}
	}
	sp := s.Span
	before := s.written[:start]
	if i := strings.LastIndexByte(before, '\n'); i >= 0 {
		sp.Line += strings.Count(before, "\n")
		sp.Col, before = 1, before[i+1:]
	}
	sp.Col += utf8.RuneCountInString(before)
	seg, _, _ := strings.Cut(s.written[start:stop], "\n")
	sp.Len = max(1, utf8.RuneCountInString(seg))
	return sp
}

// align walks what is written beside the text it stands for. pos gives for every
// byte of the text that begins a character where in s.written that character is
// written; end is where the scalar ends. White space that YAML folds (§6.5, §8.1)
// is placed only roughly.
func (s *Scalar) align() (pos []int, end int, ok bool) {
	w, text := s.written, s.Text
	pos = make([]int, len(text))
	i, j := 0, 0
	blanks := func() int {
		k := i
		for k < len(w) && (w[k] == ' ' || w[k] == '\t' || w[k] == '\n') {
			k++
		}
		return k
	}
	skipText := func(at int) {
		for j < len(text) && (text[j] == ' ' || text[j] == '\t' || text[j] == '\n') {
			pos[j] = at
			j++
		}
	}
	var quote byte
	switch {
	case s.Block:
		i = strings.IndexByte(w, '\n') + 1
		if i == 0 {
			return nil, 0, text == ""
		}
		i = blanks()
		skipText(i)
	case s.Quoted:
		if w == "" {
			return nil, 0, false
		}
		quote, i = w[0], 1
	}
	for j < len(text) {
		if i >= len(w) {
			// A block at the end of a file whose last line has no end.
			skipText(i)
			return pos, i, j == len(text) && s.Block
		}
		switch c := w[i]; {
		case quote == '"' && c == '\\':
			n := escapeLen(w[i:])
			if n == 0 {
				i += 2 // the line goes on
				i = blanks()
				continue
			}
			_, size := utf8.DecodeRuneInString(text[j:])
			pos[j] = i
			i, j = i+n, j+size
		case quote == '\'' && strings.HasPrefix(w[i:], "''"):
			pos[j] = i
			i, j = i+2, j+1
		case c == ' ' || c == '\t' || c == '\n':
			k := blanks()
			lines := strings.Count(w[i:k], "\n")
			switch {
			case lines == 0:
				if text[j] != c {
					return nil, 0, false
				}
				pos[j] = i
				i, j = i+1, j+1
			case s.Block:
				skipText(i)
				i = k
			default: // one line end is a space, each further one a line end
				for n := max(1, lines-1); n > 0 && j < len(text) && (text[j] == ' ' || text[j] == '\n'); n-- {
					pos[j] = i
					j++
				}
				i = k
			}
		default:
			r, n := utf8.DecodeRuneInString(w[i:])
			q, size := utf8.DecodeRuneInString(text[j:])
			if r != q {
				return nil, 0, false
			}
			pos[j] = i
			i, j = i+n, j+size
		}
	}
	if quote != 0 {
		i = blanks()
		if i >= len(w) || w[i] != quote {
			return nil, 0, false
		}
		i++
	}
	return pos, i, true
}

// escapeLen is the length of the escape at the beginning of s (YAML 1.2 §5.7); 0
// for an escaped line end.
func escapeLen(s string) int {
	if len(s) < 2 {
		return len(s)
	}
	switch s[1] {
	case '\n':
		return 0
	case 'x':
		return min(4, len(s))
	case 'u':
		return min(6, len(s))
	case 'U':
		return min(10, len(s))
	}
	_, n := utf8.DecodeRuneInString(s[1:])
	return 1 + n
}
