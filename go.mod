module tetherbell

go 1.26
