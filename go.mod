module wetdown

go 1.26
