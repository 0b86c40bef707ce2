// The recording form as one types. The page works without it.
