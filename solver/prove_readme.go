package solver

import "text/template"

// proofReadme is the file of a proof that says what the others are.
var proofReadme = template.Must(template.New(readmeFile).Funcs(template.FuncMap{"file": tierFile}).Parse(`HOW TO CHECK THIS PLAN WITHOUT TRUSTING THE PROGRAM THAT MADE IT

Plant:    {{.Plant}}, as of {{.AsOf}}
Plan:     number {{.Revision}}, in plan.yaml
Made by:  {{.Program}}

The plan is said to be right and to be the best there is. Its score, tier by tier, in the order in which
tiers count (a plan is better if it is lower in the first tier in which two differ):
{{range .Tiers}}
  {{printf "%-10s %12d" .Name .Value}}{{end}}

FILES

  question.wcnf  The rules as clauses (hard), and what a plan costs (soft), in the classic form for MaxSAT
                 solvers: {{.Question.Variables}} variables, {{.Question.Clauses}} clauses. The first {{.Question.Rules}} hard clauses are the rules;
                 any hard ones after them belong to the scales by which tiers are weighed. Its comments say which
                 literals are which start of which task, and on which bay. wetdown export writes the same.
  starts.csv     What the starts of the tasks are on the calendar.
  costs.txt      Lines "TIER WEIGHT LITERAL": a tier costs the sum of the weights whose literals are true.
                 Literal 1 is always true.
  plan.model     The plan as a model of question.wcnf.
  plan.yaml      The plant file with the plan, as it is put in force.
{{- range .Question.Tiers}}
  {{file .Tier}}{{"\n"}}                 Rules, every tier before this one at most at its value, and this one at most {{.Less}}:
                 {{.Variables}} variables, {{.Clauses}} clauses. The first {{.Rules}} are rules, taken from question.wcnf.
{{- end}}

A tier whose value is 0 has no file: no cost is negative, so nothing is below 0.

WHAT PROVES WHAT

1. plan.model satisfies every hard clause of question.wcnf: so the plan obeys the rules as they are written
   there. This prints what the model costs, all tiers weighed and added, or else a clause that it breaks:

     awk 'FNR==NR{for(i=2;i<=NF;i++)m[$i]=1;next} $1=="c"{next} $1=="p"{top=$5;next} {ok=0;for(i=2;i<NF;i++)if($i in m)ok=1} !ok{if($1==top){print "BROKEN: " $0;bad=1;exit 1} cost+=$1} END{if(!bad)printf "%.0f\n",cost}' plan.model question.wcnf

2. It costs in every tier what is said above (tiers that cost nothing are not printed):

     awk 'FNR==NR{for(i=2;i<=NF;i++)m[$i]=1;next} ($3 in m){v[$1]+=$2} END{for(t in v)printf "%s %.0f\n",t,v[t]}' plan.model costs.txt

3. No plan is better: each of these files is unsatisfiable, which any SAT solver can find. A plan that is
   better is lower in some tier and not higher in any before it, and so would satisfy the file of that tier.
   Rules that are not needed for this are left out of the file: without them it is harder to contradict.
{{if not .Question.Tiers}}
   There is none: every tier is 0.
{{end}}{{range .Question.Tiers}}
     cadical {{file .Tier}} {{file .Tier}}.drat     # prints s UNSATISFIABLE
     clasp {{file .Tier}}                 # another one; the same
{{end}}
   The .drat file that cadical writes is a proof in the DRAT format: a proof checker goes through it step by
   step, so that cadical need not be trusted either.
{{range .Question.Tiers}}
   That the rules in {{file .Tier}} are in question.wcnf (this prints nothing):

     awk '$1=="c"||$1=="p"{next} FNR==NR{sub(/^[0-9]+ /,"");r[$0]=1;next} ++k<={{.Rules}}&&!($0 in r)' question.wcnf {{file .Tier}}
{{end}}
4. All at once, by a MaxSAT solver alone: the least cost of question.wcnf is the sum that 1 prints. (For
   plants of 200 trucks this can take a long time, where 3 does not.)

     clasp --opt-strategy=usc --quiet=1 question.wcnf

WHAT IS STILL TRUSTED

- That the clauses say what the rules say, and costs.txt what the score says. What checks it: the judge, who
  recomputes every rule from the calendar and knows nothing of clauses. Each plan has to pass it, and it has to
  find the same value in each tier. For this plan:  wetdown check plan.yaml  (its tier "calm" may be lower
  there: work is now compared with this plan, which is in force in that file, and not with the one before).
  That no clause forbids too much, the judge cannot see. Tests compare that on small plants with searches by other
  solvers from another wording of the rules, and by trying everything.
- That the last clauses of a tier file, after its rules, say "at most". A start that alone costs its task more
  than may be paid is forbidden by a clause of one literal. The other costs are counted in halves and no further
  than the limit, where all weigh the same (a totalizer); else they are weighed by a reduced decision diagram,
  heaviest first. Tests try both on every input of small cases. Who would rather write these bounds himself
  finds everything for it in costs.txt, and can put them behind the hard clauses of question.wcnf.
- That this program really found the plan to be the best is not trusted: it does not matter here.

SHA-256 (check with: sha256sum -c, on these lines)

{{.Sums}}
`))
