package batch_test
import ("testing";"context";"time";"os";"bandwright/compiler/batch";"bandwright/compiler")
func TestZZ(t *testing.T){
 for _, n := range []string{"dabchick","heron","bittern","siskin"} {
  src,_:=os.ReadFile("../../specs/"+n+".yaml")
  x,f,err:=compiler.Compile(context.Background(), n, src, os.DirFS("../../specs")); if err!=nil||x==nil {t.Fatal(err,f)}
  s:=time.Now(); b,err:=batch.Of(context.Background(), x.Subject(), x.Board, batch.Terms{LowHz: 20, HighHz: 20000, LimitDB: 1, Share: 0.95}); if err!=nil {t.Fatal(err)}
  d:=time.Since(s); j:=judge(t,x); k:=0; batch.CountPlaces(j,&k)
  t.Log(n,d,len(j.Parts),k, b.Plain[0], b.Trimmed[0], b.TrimDB)
  for _,c:=range b.Classes { t.Log(c.Tolerance,c.Plain.Share)}
 }
}
